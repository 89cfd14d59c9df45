"""The parts of a lesson's section beyond its stage: figures, tube and map, as HTML."""

import re
from html import escape

from lipmodel.output.pages.html import data_url
from lipmodel.output.pages.listen import seen_in_words
from lipmodel.units import MINUS, sharp_or_flat

MOST_ROWS = 10
ALONE = 6  # harmonics of a note that are shown one by one
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
LOCK = re.compile(r"lock (\d\.\d\d)\.$")
SHARES = (("lips_and_jet_j", "lips and jet"), ("wall_j", "walls"), ("radiated_j", "sound"))


def figures(section: dict) -> str:
    """What is told in numbers, closed until somebody asks for it: sentences, tables, pictures."""
    several = len(section["takes"]) > 1
    parts = []
    for take in section["takes"]:
        name = take["name"][:1].upper() + take["name"][1:]
        parts.append(f'<div class="told-in-numbers">{f"<h3>{escape(name)}</h3>" * several}')
        parts += [numbers(take), extra_pictures(take, section["title"]), "</div>"]
    if not parts:
        return ""
    return f'<details class="figures"><summary>Figures</summary>\n{"".join(parts)}</details>'


def numbers(take: dict) -> str:
    """What happened in sentences, and the few figures that matter; the whole picture below."""
    report = take["report"]
    kept = [s for s in report["sentences"] if not any(w in s for w in FOR_THE_TEACHER)]
    sentences = "".join(f"<li>{escape(_plainly(s))}</li>" for s in kept)
    changed = ""
    if report["changed"]:
        words = escape("; ".join(report["changed"]))
        changed = f'<p class="changed">Changed: {words}. All else was held.</p>'
    return f"{changed}<ul>{sentences}</ul>\n{_table(report)}{_energy(report)}\n{_whole(take)}"


def _plainly(sentence: str) -> str:
    """A lock that a sentence ends with, told in cents too."""
    return LOCK.sub(lambda found: f"{found[0][:-1]}: {in_cents(float(found[1]))}.", sentence)


def in_cents(lock: float) -> str:
    """What a lock means: how far the pitch moves when the lips move.

    >>> in_cents(0.8)
    'pitch moves 20 cents for 100 of the lips'
    """
    moves = round(100 * (1 - lock))
    against = " against them" if moves < 0 else ""
    return f"pitch moves {abs(moves)} cents for 100 of the lips{against}"


def _whole(take: dict) -> str:
    """The picture of the take as `render` draws it, where the page has room for it."""
    if not take["picture"]:
        return ""
    picture = data_url(take["picture"], "image/png")
    return (
        '<figure class="whole">'
        f'<img src="{picture}" alt="{escape(seen_in_words(take["report"]))}" width="1600" '
        'height="1200"></figure>'
    )


def _columns(first: str):
    def show(key, form):
        return lambda note: NOTHING if note.get(key) is None else form(note[key])

    names = ("written", "sounding") if first == "written" else ("sounding", "written")
    return (
        *((name.capitalize(), show(name, str)) for name in names),
        ("Hz", show("frequency_hz", "{:.1f}".format)),
        ("Cents from the partial", show("cents_from_resonance", sharp_or_flat)),
        ("Lock", show("lock", lambda lock: f"{lock:.2f}: {in_cents(lock)}")),
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
        f'<figure class="more"><img src="{data_url(png, "image/png")}" '
        f'alt="{escape(title)}. {PICTURES[name]}">'
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


def tube_part(number: int, title: str, waves: list) -> str:
    """The tube in slow motion: canvas and controls; the script fills in the notes."""
    count = min(len(wave["harmonics"]) for wave in waves)
    harmonics = [("0", "all"), *((str(n), str(n)) for n in range(1, min(count, ALONE) + 1))]
    shows = (("both", "both"), ("pressure", "pressure"), ("motion", "motion"))
    return (
        f'<div class="panel tube" data-tube="{number}">\n<h3>Inside the tube, slowly</h3>\n'
        f'<div class="fill"><canvas role="img" aria-label="{escape(title)}: the tube cut open, '
        'its air swinging"></canvas></div>\n'
        '<p class="key">Violet: pressure above the room’s. Green: below. Dots and dashes: how far '
        'the air moves.</p>\n<p class="caption"></p>\n<div class="controls">'
        '<button type="button" class="run">Start</button>'
        '<button type="button" class="step">Step</button>'
        f'<label>Note <select class="which" name="note{number}"></select></label>'
        '<label>Speed, swings per second <input type="range" class="speed" min="0.05" max="1.5" '
        'step="0.05" value="0.3"></label>'
        '<label><input type="checkbox" class="wide"> larger widths (else to scale)</label></div>\n'
        f'<div class="controls">{_choice(f"harmonic{number}", "Harmonic", harmonics)}'
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
        f'<div class="panel map" data-map="{number}">\n<h3>The map: click, or walk with the arrow '
        "keys</h3>\n"
        f'<div class="fill"><canvas class="ground" tabindex="0" role="application" '
        f'aria-label="{name}: map of lip setting against blowing pressure. Arrow keys walk, Enter '
        'plays again."></canvas></div>\n'
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
