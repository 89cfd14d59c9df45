"""The live horn: one screen on which lips, breath, valves and slide are moved by hand."""

from html import escape
from pathlib import Path

from lipmodel.output.pages.html import page
from lipmodel.output.pages.live.words import WORDS
from lipmodel.output.pages.security import policy, script_json

HERE = Path(__file__).parent
LOOP = ("time_loop.js", "worklet.js")
SCRIPTS = (
    "audio.js", "draw.js", "stairs.js", "state.js", "keep.js", "notes.js", "midi.js", "tour.js",
    "hands.js", "page.js",
)  # fmt: skip
READ = ("sounding", "cents", "lock", "loudness", "lips", "breath")
NOTE_KEYS = 10  # of the row Q to P


def live_page(title: str, data: dict) -> str:
    """One self-contained HTML page; `data` as `live_set.live_set` gives it."""
    data = data | {"words": WORDS, "worklet": "\n".join(map(_text, LOOP))}
    script = "\n".join(map(_text, SCRIPTS))
    body = "\n".join(
        [
            _top(title),
            f'<div class="pane field"><canvas id="field" tabindex="0" role="application" '
            f'aria-label="{WORDS["field"]}"></canvas></div>',
            _heard(),
            _canvas("stairs", "pane stairs"),
            _hands(data),
            _tour(),
            f'<div class="care"><p>{WORDS["care"]}</p></div>',
            _more(data),
            f'<script type="application/json" id="data">{script_json(data)}</script>',
            f"<script>{script}</script>",
        ]
    )
    return page(title, body, policy(script, _text("live.css"), worklet=True))


def _text(name: str) -> str:
    return (HERE / name).read_text("utf-8")


def _top(title: str) -> str:
    return "\n".join(
        [
            f'<div class="top"><h1>{escape(title)}</h1>',
            _button("start", WORDS["start"]),
            f'<label>{WORDS["volume"]} <input type="range" id="volume" min="0" max="1" '
            'step="0.05" value="0.25"></label>',
            f'<label class="meter">{WORDS["level"]} <meter id="meter" min="-60" max="0" '
            f'low="-24" high="-6" value="-60" aria-label="{WORDS["loudness"]}"></meter></label>',
            _button("tour-open", WORDS["tour"]),
            f'<button type="button" id="more-open" aria-expanded="false" aria-controls="more">'
            f"{WORDS['more']}</button></div>",
        ]
    )


def _heard() -> str:
    return (
        '<div class="heard"><p id="read-note" class="name">–</p>'
        f'<div class="pane"><canvas id="tuner" role="img" aria-label="{WORDS["tuner"]}"></canvas>'
        "</div></div>"
    )


def _hands(data) -> str:
    tubes = [(n, c["label"]) for n, c in enumerate(data["choices"]) if c["group"] == "tube"]
    held = data["held"]
    parts = [
        f'<div class="hands" role="region" aria-label="{WORDS["hands"]}">\n<div class="row">',
        _select("tube", tubes),
        *(f'<button type="button" class="piston" id="piston-{n}" aria-pressed="false" '
          f'aria-label="{WORDS["valve"]} {n}">{n}</button>' for n in held["numbers"]),
    ]  # fmt: skip
    if held["slide"]:
        parts.append(
            f'<label class="rail">{WORDS["slide"]} <input type="range" id="slide" min="1" '
            'max="7" step="0.01"> <output id="slide-at" for="slide"></output></label>'
        )
    parts += [
        _button("blow", WORDS["blow"]),
        _box("follow"),
        f'<button type="button" id="clear" aria-label="{WORDS["clear_help"]}">{WORDS["clear"]}'
        '</button>\n</div>\n<div class="row keys">',
        f'<button type="button" id="octave-down" aria-label="{WORDS["octave_down"]}">−8</button>',
        *(f'<button type="button" class="key" data-step="{n}">–</button>'
          for n in range(NOTE_KEYS)),
        f'<button type="button" id="octave-up" aria-label="{WORDS["octave_up"]}">+8</button>',
        '</div>\n<p id="told" class="told" role="status"></p></div>',
    ]  # fmt: skip
    return "\n".join(parts)


def _tour() -> str:
    return (
        f'<div id="tour" class="tour" role="region" aria-label="{WORDS["tour"]}" hidden>'
        f'<p id="tour-text" role="status"></p>{_button("tour-next", WORDS["tour_next"])}'
        f"{_button('tour-end', WORDS['tour_end'])}</div>"
    )


def _more(data) -> str:
    """What is set once, read, kept: beside the stage, when it is asked for."""
    mouth, words = data["mouth"], WORDS
    helps = ("keys", "notes_help", "follow_help", "mouth_help", "firm_help")
    slots = words["slots_firm" if data["firm"] else "slots"]
    return "\n".join(
        [
            f'<aside id="more" aria-label="{words["more"]}" hidden>',
            _button("more-close", words["less"]),
            '<div class="row">',
            _select("motion", [(m, words[m]) for m in data["lips"]]),
            _box("firm"),
            _box("led"),
            f'<label>{words["resonance"]} <input type="range" id="resonance" '
            f'min="{mouth["lowest_hz"]:g}" max="{mouth["highest_hz"]:g}" step="1"> '
            '<output id="resonance-hz" for="resonance"></output></label></div>',
            f'<div class="row">{_button("keep", words["keep"])}{_button("wav", words["wav"])}'
            f'<button type="button" id="midi" hidden>{words["midi"]}</button></div>',
            _numbers(),
            _canvas("harmonics", "pane harmonics"),
            *(f"<p>{words[name]}</p>" for name in helps),
            f"<p>{slots} {words['switching']} {words['linear']}</p>\n</aside>",
        ]
    )


def _button(name: str, text: str) -> str:
    return f'<button type="button" id="{name}">{text}</button>'


def _box(name: str) -> str:
    return f'<label><input type="checkbox" id="{name}"> {WORDS[name]}</label>'


def _select(name: str, options) -> str:
    rows = "".join(f'<option value="{v}">{escape(str(t))}</option>' for v, t in options)
    return f'<label>{WORDS[name]} <select id="{name}">{rows}</select></label>'


def _canvas(name: str, kind: str) -> str:
    return (
        f'<figure class="{kind}"><canvas id="{name}" role="img" aria-label="{WORDS[name]}">'
        f"</canvas></figure>"
    )


def _numbers() -> str:
    rows = "".join(f'<div><dt>{WORDS[name]}</dt><dd id="read-{name}">–</dd></div>' for name in READ)
    return f'<dl class="read">{rows}</dl>'
