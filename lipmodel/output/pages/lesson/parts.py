"""The parts of a lesson's section: question, player, numbers, pictures, tube and map, as HTML."""

from html import escape

from lipmodel.output.pages.care import CHILDREN, START_LOW, box, cautions
from lipmodel.output.pages.html import data_url
from lipmodel.output.pages.listen import seen_in_words
from lipmodel.units import MINUS, sharp_or_flat

MOST_ROWS = 10
FOR_THE_TEACHER = ("protect", "LUFS")  # words of sentences that the page says elsewhere or not
NOTHING = "–"
PICTURES = {
    "bores": "The shapes side by side, with the resonances of each.",
    "pair": "Both takes side by side: spectrum in dB over the resonances in Hz.",
    "pedal": "What holds the pedal note: its harmonics in Hz over the resonances.",
    "dynamics": "Level, spectral centroid and harmonics against mouth pressure in kPa.",
    "directivity": "Where the sound goes: level in dB against the angle from the bell's axis.",
    "steadiness": "What lips and breath did, and what the pitch made of it, in cents and %.",
    "mirror": "What the bell sends back, against frequency in Hz.",
    "field": "Pressure and motion of the air along the tube, distance from the lips in cm.",
    "echo": "What comes back of one click, time in ms.",
    "energy": "Where the blown power goes, in W and %.",
}
SHARES = (("lips_and_jet_j", "lips and jet"), ("wall_j", "walls"), ("radiated_j", "sound"))


def question(section: dict) -> str:
    """The teacher's question first; its answer stays closed until somebody opens it."""
    parts = []
    if section["ask"]:
        parts.append(f'<p class="ask" dir="auto">{escape(section["ask"])}</p>')
    # for the worksheet on paper alone
    parts.append(
        '<div class="lines" aria-hidden="true"><p>My guess</p><hr><hr>'
        "<p>What I heard</p><hr><hr></div>"
    )
    if section["answer"]:
        answer = escape(section["answer"])
        parts.append(
            '<details class="answer"><summary>Show the answer</summary>'
            f'<p dir="auto">{answer}</p></details>\n'
            f'<p class="on-paper" dir="auto"><b>Answer</b> {answer}</p>'
        )
    if section["listen_for"]:
        parts.append(
            '<div class="listen-for"><h3>Listen for</h3>'
            f'<p dir="auto">{escape(section["listen_for"])}</p></div>'
        )
    return "\n".join(parts)


def player(number: int, take: dict, title: str, label: str, loud: str) -> str:
    """Play button, position and the curve with its cursor; the picture where there is none.
    `loud`: attributes that say how far it is turned down."""
    report = take["report"]
    name = escape(f"{title}: {label}" if label else title)
    head = f'<h3 dir="auto">{escape(label[:1].upper() + label[1:])}</h3>' if label else ""
    changed = ""
    if report["changed"]:
        words = escape("; ".join(report["changed"]))
        changed = f'<p class="changed">Changed: {words}. All else was held.</p>'
    # the page itself begins with what every sound needs
    care = box([text for text in cautions(report) if text not in (START_LOW, CHILDREN)])
    length = f"{report['length_s']:.2f}"
    level = take["curves"]["kind"] == "level"
    caption = (
        "Loudness in dB under the loudest moment, against time in s."
        if level
        else "Pitch in Hz against time in s. Thick: what sounds. Dashed: the lip setting. "
        "Thin lines: the resonances, named as notes."
    )
    return (
        f'<div class="slide take" data-take="{number}" {loud}>\n{head}{changed}{care}'
        '<div class="controls">'
        f'<button type="button" class="play" aria-label="Play {name}">Play</button>'
        f'<label class="at">Position, s <input type="range" min="0" max="{length}" step="0.01" '
        f'value="0" aria-label="Position in {name}, seconds"></label></div>\n'
        f'<audio controls preload="auto" aria-label="{name}" '
        f'src="{data_url(take["sound"], "audio/mpeg")}"></audio>\n'
        f'<figure><div class="chart" role="img" aria-label="{escape(seen_in_words(report))}"></div>'
        f"<figcaption>{caption}</figcaption></figure>\n</div>"
    )


def numbers(take: dict) -> str:
    """The few figures that matter, and what happened in sentences; the whole picture below."""
    report = take["report"]
    kept = [s for s in report["sentences"] if not any(w in s for w in FOR_THE_TEACHER)]
    sentences = "".join(f"<li>{escape(s)}</li>" for s in kept)
    figures = f"<ul>{sentences}</ul>\n{_table(report)}{_energy(report)}"
    return f'<div class="slide told-in-numbers">\n{figures}</div>\n{_whole(take)}'


def _whole(take: dict) -> str:
    """The picture of the take as `render` draws it, where the page has room for it."""
    if not take["picture"]:
        return ""
    picture = data_url(take["picture"], "image/png")
    return (
        '<details class="whole"><summary>The whole picture</summary><figure>'
        f'<img src="{picture}" alt="{escape(seen_in_words(take["report"]))}" width="1600" '
        'height="1200"></figure></details>'
    )


def _columns(first: str):
    def show(key, form):
        return lambda note: NOTHING if note.get(key) is None else form(note[key])

    names = ("written", "sounding") if first == "written" else ("sounding", "written")
    return (
        *((name.capitalize(), show(name, str)) for name in names),
        ("Hz", show("frequency_hz", "{:.1f}".format)),
        ("Cents from the partial", show("cents_from_resonance", sharp_or_flat)),
        ("Lock", show("lock", "{:.2f}".format)),
        ("State", show("state", str)),
        ("Blowing pressure, kPa", show("pressure_kpa", "{:.1f}".format)),
    )


def _table(report: dict) -> str:
    notes = report["notes"]
    if not notes:
        return ""
    columns = _columns(report["inputs"]["notes"]["read_as"])
    head = "".join(f'<th role="columnheader" scope="col">{name}</th>' for name, _ in columns)
    rows = "\n".join(
        '<tr role="row">'
        + "".join(f'<td role="cell" data-name="{n}">{escape(c(note))}</td>' for n, c in columns)
        + "</tr>"
        for note in notes[:MOST_ROWS]
    )
    more = f"<p>The first {MOST_ROWS} of {len(notes)} notes.</p>" if len(notes) > MOST_ROWS else ""
    return (
        f'<table role="table">\n<thead role="rowgroup"><tr role="row">{head}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{rows}\n</tbody>\n</table>{more}\n'
    )


def _energy(report: dict) -> str:
    """How the blown energy is shared out, as a bar and in words."""
    energy = report["energy"] or {}
    blown = energy.get("blown_j") or 0.0
    if report.get("source") or not blown > 0:
        return ""
    shares = [(words, 100 * energy[key] / blown) for key, words in SHARES]
    bars = "".join(
        f'<span class="share{i}" style="width: {max(value, 0.3):.2f}%"></span>'
        for i, (_, value) in enumerate(shares)
    )
    said = ", ".join(f"{words} {_percent(value)}" for words, value in shares)
    return (
        f'<figure class="energy"><div class="shares" aria-hidden="true">{bars}</div>'
        f"<figcaption>Where the blown energy went: {said}.</figcaption></figure>\n"
    )


def _percent(value: float) -> str:
    size, sign = abs(value), MINUS * (value < 0)
    if size < 0.1:
        return "under 0.1 %"
    return f"{sign}{size:.0f} %" if size >= 9.95 else f"{sign}{size:.1f} %"


def extra_pictures(take: dict, title: str) -> str:
    """One figure for each further picture of the take."""
    return "\n".join(
        f'<figure class="slide more"><img src="{data_url(png, "image/png")}" '
        f'alt="{escape(title)}. {PICTURES[name]}" loading="lazy">'
        f"<figcaption>{PICTURES[name]}</figcaption></figure>"
        for name, png in take["more"].items()
    )


def _choice(group: str, legend: str, options, chosen=0) -> str:
    """A group of radio buttons: (value, label) each."""
    inside = "".join(
        f'<label><input type="radio" name="{group}" value="{escape(str(value))}"'
        f"{' checked' if i == chosen else ''}> {escape(label)}</label>"
        for i, (value, label) in enumerate(options)
    )
    return f"<fieldset><legend>{legend}</legend>{inside}</fieldset>"


def tube_part(number: int, title: str, takes: list) -> str:
    """The tube in slow motion: canvas and controls; the script fills in the notes."""
    count = len(takes[0]["animation"]["harmonics"])
    harmonics = [("0", "all"), *((str(n), str(n)) for n in range(1, count + 1))]
    shows = (("both", "both"), ("pressure", "pressure"), ("motion", "motion"))
    return (
        f'<div class="slide tube" data-tube="{number}">\n<h3>Inside the tube, slowly</h3>\n'
        f'<canvas role="img" aria-label="{escape(title)}: the tube cut open, its air '
        'swinging"></canvas>\n'
        '<p class="caption"></p>\n<div class="controls">'
        '<button type="button" class="run">Start</button>'
        '<button type="button" class="step">Step</button>'
        '<label>Speed, swings per second <input type="range" class="speed" min="0.05" max="1.5" '
        'step="0.05" value="0.3"></label>'
        '<label><input type="checkbox" class="wide"> larger widths (else to scale)</label></div>\n'
        f'<div class="controls"><div class="which{number} which"></div>'
        f"{_choice(f'harmonic{number}', 'Harmonic', harmonics)}"
        f"{_choice(f'show{number}', 'Show', shows)}</div>\n</div>"
    )


def map_part(number: int, title: str, walk: dict) -> str:
    """The map to walk: canvas, sliders, buttons, and a chart of the cell's harmonics."""
    name = escape(title)
    rows, columns = len(walk["rows"]) - 1, len(walk["columns"]) - 1
    every = walk["every"]
    sparse = "" if every == 1 else f" Every {_ordinal(every)} cell of each row and column sounds."
    loud = (("equal", "equal"), ("true", "as loud as it would be"))
    return (
        f'<div class="slide map" data-map="{number}">\n<h3>The map: click, or walk with the arrow '
        "keys</h3>\n"
        f'<canvas class="ground" tabindex="0" role="application" aria-label="{name}: map of lip '
        'setting against blowing pressure. Arrow keys walk, Enter plays again."></canvas>\n'
        '<p class="cell" role="status"></p>\n<div class="controls places">'
        f'<label>Lip setting <input type="range" class="across" min="0" max="{columns}" value="0">'
        f'</label><label>Blowing pressure <input type="range" class="up" min="0" max="{rows}" '
        'value="0"></label></div>\n<div class="controls">'
        '<button type="button" class="again">Play this cell</button>'
        '<button type="button" class="tighten">Tighten the lips</button>'
        '<button type="button" class="harder">Blow harder</button>'
        '<button type="button" class="path">Play the drawn path</button>'
        f"{_choice(f'loudness{number}', 'Loudness', loud)}</div>\n"
        '<figure><div class="match" role="img" aria-label="Harmonics of the note over the '
        'resonances of the tube"></div><figcaption>Bars: the harmonics of this note in the '
        "mouthpiece. Line: how strongly the tube answers. Both in dB under their highest, against "
        "frequency in Hz.</figcaption></figure>\n"
        '<p class="note">Lip setting in Hz across, blowing pressure in kPa up. Full colour: '
        "locked; paler: bent or free; grey: unsteady; white: silent. Draw a path with mouse or "
        f"finger.{sparse}</p>\n</div>"
    )


def _ordinal(number: int) -> str:
    return {2: "second", 3: "third"}.get(number, f"{number}th")
