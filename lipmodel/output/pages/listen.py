"""The page of one run: its sound, its picture, what happened in sentences, and the figures."""

import base64
from html import escape

from lipmodel.analysis.lock import shown as lock_shown
from lipmodel.output.pages.care import box, cautions, place
from lipmodel.output.pages.html import page
from lipmodel.output.source_sentences import source_seen
from lipmodel.output.wording import heading, name_first
from lipmodel.units import MINUS, sharp_or_flat

MOST_ROWS = 24  # notes in the table
GLOSSARY = (
    ("resonance", "a peak of the air column: a frequency at which it answers strongly."),
    ("partial", "the register a player names by number: the note held near that resonance."),
    ("harmonic", "one component of the spectrum of a sound."),
    ("slot", "the range of lip setting over which the note holds."),
    ("lip setting", "the lips’ own natural frequency in Hz; not the note."),
    (
        "lock",
        "how firmly the note holds, measured: 1 means the pitch ignores the lips, "
        "0 means it follows them, less than 0 that it moves further than they do, over 1 that it "
        "moves against them.",
    ),
    ("locked", "in a slot, at most 30 cents from the slot’s resting pitch."),
    ("bent", "on a partial, but lipped further than that from its resting pitch."),
    ("free", "no slot here: the pitch follows the lips."),
    ("unsteady", "the sound does not repeat itself from period to period."),
    ("written, sounding", "the note on the page, and the note that is heard."),
    ("cents", "hundredths of a semitone from equal temperament."),
)
ENERGY = (
    ("lips_and_jet_j", "{} stayed with the lips and the jet of air between them."),
    ("into_bore_j", "{} went into the air column."),
    ("wall_j", "The walls of the tube took {} of that."),
    ("radiated_j", "The open end sent out {} of that as sound."),
    ("stored_j", "{} was still in the air column at the end."),
)
NOTHING = "–"
SMALLEST = 1e-8  # J, shown as a number


def _told(report: dict) -> list[str]:
    """The sentences but for the caution, which has its own box."""
    return [s for s in report.get("sentences") or [] if "protect hearing" not in s]


def listen_page(report: dict, sound: bytes | str, mime: str, picture_png: bytes) -> str:
    """One self-contained HTML page, a string that opens offline.

    `report` is the dict of report.json; `sound` a sound file of type `mime` ("audio/wav"), or, of
    a sound too long for a page, the name of the file beside it;
    `picture_png` the picture of the run.  The same input gives the same page.
    """
    inputs = report.get("inputs", {})
    title = heading(report)
    parts = [
        f"<h1>{_text(title)}</h1>",
        _question(inputs),
        _section("What to listen for", _paragraph(inputs.get("listen_for"))),
        _section("Listen", _sound(report, sound, mime, title)),
        _section("See", _picture(report, picture_png)),
        _section("What happened", _list(_told(report))),
        _section("What changed", _list(report.get("changed"))),
        _section("The notes", _notes(report)),
        _section("How loud", _list(_levels(report))),
        _section("Where the energy went", _list(_energy(report))),
        _section("Words", _glossary()),
    ]
    return page(title, "\n".join(part for part in parts if part))


def _text(value) -> str:
    return escape(str(value), quote=True)


def _section(name, inside) -> str:
    return f"<section>\n<h2>{name}</h2>\n{inside}\n</section>" if inside else ""


def _paragraph(text) -> str:
    return f"<p>{_text(text)}</p>" if text else ""


def _list(sentences) -> str:
    if not sentences:
        return ""
    return "<ul>\n" + "\n".join(f"<li>{_text(s)}</li>" for s in sentences) + "\n</ul>"


def _question(inputs) -> str:
    """The teacher's question first; its answer stays closed until somebody opens it."""
    ask, answer = inputs.get("ask"), inputs.get("answer")
    asked = f'<p class="ask">{_text(ask)}</p>' if ask else ""
    if not answer:
        return asked
    return (
        f"{asked}\n<details>\n<summary>Show the answer</summary>\n{_paragraph(answer)}\n</details>"
    )


def _sound(report, sound, mime, title) -> str:
    beside = isinstance(sound, str)
    label = "The sound of this run"
    if beside:
        label += f", {_text(sound)}: keep that file beside this page"
    return (
        f"{box(cautions(report))}\n"
        f'<p id="sound">{label}</p>\n'
        f'<audio controls preload="metadata" aria-labelledby="sound" title="{_text(title)}" '
        f'src="{_text(sound) if beside else _data(sound, mime)}"></audio>'
    )


def _data(content: bytes, mime: str) -> str:
    return f"data:{_text(mime)};base64,{base64.b64encode(content).decode('ascii')}"


def _picture(report, picture_png) -> str:
    return (
        f'<img src="{_data(picture_png, "image/png")}" alt="{_text(seen_in_words(report))}" '
        'width="1600" height="1200">'
    )


def seen_in_words(report) -> str:
    """The picture in words, for those who cannot see it."""
    if report.get("source"):
        return source_seen(report)
    which = name_first(report)
    notes = [n for n in report.get("notes", ()) if n.get("frequency_hz")]
    names = " ".join(str(n.get(which)) for n in notes[:MOST_ROWS])
    played = f"the notes {names} ({which})" if notes else "no steady note"
    if not any(f for f in report["pitch"]["frequency_hz"]):
        played = "no sound"
    return (
        f"Three charts. First, playing frequency against time over {report['length_s']:g} seconds, "
        f"drawn over the resonances of the air column: {played}; a thin line shows the lip "
        "setting. Second, the pressures in the mouth and in the mouthpiece against time. Third, a "
        "close look at the mouthpiece pressure and the lip opening."
    )


def _columns(report):
    """Head and cell of each column of the table of notes, the scene's own note names first."""
    names = ("written", "sounding") if name_first(report) == "written" else ("sounding", "written")

    def show(key, form):
        return lambda note: NOTHING if note.get(key) is None else form(note[key])

    return (
        ("Start, s", show("start_s", "{:.2f}".format)),
        *((name.capitalize(), show(name, str)) for name in names),
        ("Hz", show("frequency_hz", "{:.1f}".format)),
        ("Cents", show("cents", sharp_or_flat)),
        ("Partial", show("partial", str)),
        ("Lock", show("lock", lock_shown)),
        ("State", show("state", str)),
        ("Lip setting, Hz", show("tension_hz", "{:.0f}".format)),
        ("Blowing pressure, kPa", show("pressure_kpa", "{:.1f}".format)),
    )


def _notes(report) -> str:
    notes = report.get("notes") or []
    if not notes:
        return "<p>No steady note.</p>"
    columns = _columns(report)
    head = "".join(f'<th role="columnheader" scope="col">{name}</th>' for name, _ in columns)
    rows = "\n".join(_row(note, columns) for note in notes[:MOST_ROWS])
    more = ""
    if len(notes) > MOST_ROWS:
        more = f"\n<p>The first {MOST_ROWS} of {len(notes)} notes; report.json has them all.</p>"
    # the roles stay when a narrow screen turns the rows into cards
    return (
        '<table role="table">\n'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{rows}\n</tbody>\n</table>{more}'
    )


def _row(note, columns) -> str:
    cells = "".join(
        f'<td role="cell" data-name="{name}">{_text(cell(note))}</td>' for name, cell in columns
    )
    return f'<tr role="row">{cells}</tr>'


def _levels(report) -> list[str]:
    level = report.get("level") or {}
    sentences = []
    if level.get("lufs") is not None:
        loudness = f"{level['lufs']:.1f}".replace("-", MINUS)
        sentences.append(f"The sound file has a loudness of {loudness} LUFS.")
    if level.get("spl_db") is not None:
        sentences.append(
            f"{place(report)} the loudest second reaches {level['spl_db']:.1f} dB SPL, unweighted."
        )
    if level.get("laf_max_db") is not None:
        sentences.append(f"The loudest moment there reaches {level['laf_max_db']:.1f} dB(A).")
    return sentences


def _energy(report) -> list[str]:
    """Joules and shares of what was blown or put in, each in a sentence."""
    energy, source = report.get("energy") or {}, report.get("source")
    blown = energy.get("blown_j")
    if not blown or not blown > 0:
        return []
    giver = "the source" if source else "the mouth"
    sentences = [f"{_joules(blown)} came from {giver}; the shares below are shares of this."]
    for key, words in ENERGY[1:] if source else ENERGY:
        if energy.get(key) is not None:
            share = _percent(energy[key] / blown)
            sentences.append(words.format(f"{_joules(energy[key])} ({share})"))
    if energy.get("residual") is not None:
        missing, what = _percent(abs(energy["residual"])), "put in" if source else "blown"
        sentences.append(
            f"The books of the air column leave {missing} of what was {what} unaccounted for."
        )
    return sentences


def _percent(share: float) -> str:
    """Two figures, and no more than hundredths."""
    value = 100 * share
    if 0 < abs(value) < 0.01:
        return "under 0.01 %"
    size = f"{abs(value):.0f}" if abs(value) >= 9.95 else f"{abs(value):.2g}"
    return f"{MINUS if value < 0 else ''}{size} %"


def _joules(value: float) -> str:
    """Three figures in J, mJ or µJ."""
    if value == 0:
        return "0 J"
    if abs(value) < SMALLEST:
        return "under 0.01 µJ"
    size = abs(float(f"{value:.3g}"))  # rounded first: 0.9999 J is 1.00 J, not 1000 mJ
    factor, unit = (1, "J") if size >= 1 else (1e3, "mJ") if size >= 1e-3 else (1e6, "µJ")
    return f"{MINUS if value < 0 else ''}{size * factor:.{_places(size * factor)}f} {unit}"


def _places(size: float) -> int:
    return 2 if size < 10 else 1 if size < 100 else 0


def _glossary() -> str:
    entries = "\n".join(f"<dt>{word}</dt><dd>{meaning}</dd>" for word, meaning in GLOSSARY)
    return f"<dl>\n{entries}\n</dl>"
