"""The live horn: one page on which lips and breath are moved by hand."""

from html import escape
from pathlib import Path

from lipmodel.output.pages.html import page
from lipmodel.output.pages.live.words import WORDS
from lipmodel.output.pages.security import policy, script_json

HERE = Path(__file__).parent
LOOP = ("time_loop.js", "worklet.js")
SCRIPTS = ("audio.js", "draw.js", "page.js")
READ = ("note", "sounding", "cents", "lock", "loudness", "lips", "breath")


def live_page(title: str, data: dict) -> str:
    """One self-contained HTML page; `data` as `live_set.live_set` gives it."""
    data = data | {"words": WORDS, "worklet": "\n".join(map(_text, LOOP))}
    script = "\n".join(map(_text, SCRIPTS))
    body = "\n".join(
        [
            f"<h1>{escape(title)}</h1>",
            f"<p>{WORDS['intro']}</p>",
            f'<div class="care"><p>{WORDS["care"]}</p></div>',
            _bar(data),
            _player(data),
            '<p id="told" class="told" role="status"></p>',
            _field(),
            _numbers(),
            _figure("path", 300),
            _figure("harmonics", 260),
            f"<p>{WORDS['keys']}</p><p>{WORDS['mouth_help']}</p><p>{WORDS['firm_help']}</p>",
            f"<p>{WORDS['slots_firm' if data['firm'] else 'slots']} {WORDS['switching']} "
            f"{WORDS['linear']}</p>",
            f'<script type="application/json" id="data">{script_json(data)}</script>',
            f"<script>{script}</script>",
        ]
    )
    return page(title, body, policy(script, _text("live.css"), worklet=True))


def _text(name: str) -> str:
    return (HERE / name).read_text("utf-8")


def _bar(data) -> str:
    parts = [
        f'<button type="button" id="start">{WORDS["start"]}</button>',
        f'<label class="volume">{WORDS["volume"]} <input type="range" id="volume" min="0" '
        'max="1" step="0.05" value="0.25"></label>',
        '<label class="meter">dB <meter id="meter" min="-60" max="0" low="-24" high="-6" '
        f'value="-60" aria-label="{WORDS["loudness"]}"></meter></label>',
        f'<button type="button" id="blow">{WORDS["blow"]}</button>',
    ]
    for group in ("tube", "valves", "slide"):
        options = [(n, c["label"]) for n, c in enumerate(data["choices"]) if c["group"] == group]
        if group != "tube" and options:
            options.insert(0, (0, "0" if group == "valves" else "1"))
        if options:
            parts.append(_select(group, options))
    motions = [(m, WORDS[m]) for m in data["lips"]]
    parts.append(_select("motion", motions))
    parts.append(f'<button type="button" id="keep">{WORDS["keep"]}</button>')
    return '<div class="bar" role="region" aria-label="Horn">\n' + "\n".join(parts) + "\n</div>"


def _player(data) -> str:
    """How the lips and the mouth of who plays behave; the script sets the boxes."""
    mouth = data["mouth"]
    return (
        f'<div class="bar" role="region" aria-label="{WORDS["player"]}">\n'
        f'<label><input type="checkbox" id="firm"> {WORDS["firm"]}</label>\n'
        f'<label><input type="checkbox" id="led"> {WORDS["led"]}</label>\n'
        f'<label class="volume">{WORDS["resonance"]} <input type="range" id="resonance" '
        f'min="{mouth["lowest_hz"]:g}" max="{mouth["highest_hz"]:g}" step="1"> '
        '<output id="resonance-hz" for="resonance"></output></label>\n</div>'
    )


def _select(name: str, options) -> str:
    rows = "".join(f'<option value="{v}">{escape(str(t))}</option>' for v, t in options)
    return f'<label>{WORDS[name]} <select id="{name}">{rows}</select></label>'


def _field() -> str:
    return (
        f'<div class="figure"><canvas id="field" height="420" tabindex="0" role="application" '
        f'aria-label="{WORDS["field"]}"></canvas></div>'
    )


def _figure(name: str, height: int) -> str:
    return (
        f'<figure class="figure"><canvas id="{name}" height="{height}" role="img" '
        f'aria-label="{WORDS[name]}"></canvas><figcaption>{WORDS[name]}</figcaption></figure>'
    )


def _numbers() -> str:
    rows = "".join(f'<div><dt>{WORDS[name]}</dt><dd id="read-{name}">–</dd></div>' for name in READ)
    return f'<dl class="read">{rows}</dl>'
