"""The fingering chart as a page that prints on one sheet of A4."""

from html import escape

from lipmodel.output.pages.html import page
from lipmodel.studies.chart import disagreements, how, pull_words, short_words, weighed
from lipmodel.units import note_name, parse_note

NEAR = 60.0  # cents: alternatives further off are left to chart.json
NOTHING, ABSENT = "–", "not on this instrument"
LONGEST_LINE = 32  # letters of alternatives
NO_BREAK_HYPHEN = "\N{NON-BREAKING HYPHEN}"
ROOM_MM = 232.0  # of the sheet's height for the rows, head and all
ROW_MM = (3.6, 7.6)  # lowest and highest row
POINTS_A_MM = 1.75  # of type, for a row
STYLE = """
<style>
@page { size: A4 portrait; margin: 10mm 12mm; }
.chart { border-collapse: collapse; }
.chart td { vertical-align: middle; white-space: nowrap; }
.chart .note { font-weight: 700; }
.chart .hold { font-weight: 700; font-size: 1.25em; color: var(--sound); }
.chart .more { font-size: 0.88em; }
.chart tr.open td { background: var(--pointed); }
.chart tr.top td { border-top: 2px solid var(--sound); }
/* a chart is read along its rows, on a narrow screen too */
@media screen and (max-width: 60rem) {
  .chart { display: table; font-size: 1rem; }
  .chart thead { display: table-header-group; position: static; width: auto; height: auto;
                 overflow: visible; clip-path: none; }
  .chart tbody { display: table-row-group; }
  .chart tr { display: table-row; border: 0; margin: 0; padding: 0; }
  .chart td { display: table-cell; padding: 0.4rem 0.4rem 0.4rem 0; white-space: normal;
              border-bottom: 1px solid var(--grid); }
  .chart td::before { content: none; }
}
@media screen and (max-width: 40rem) {
  .chart { font-size: 0.85rem; }
  .chart td, .chart th { padding-right: 0.4rem; }
  .chart .note { white-space: normal; }
  .chart [data-name=Sounding], .chart [data-name=Hz], .chart [data-name=Partial] { display: none; }
}
@media print {
  body { font-size: 9pt; line-height: 1.2; print-color-adjust: exact;
         -webkit-print-color-adjust: exact; }
  main { max-width: none; padding: 0; }
  h1 { font-size: 18pt; margin: 0 0 1mm; }
  p { margin: 0.6mm 0; max-width: none; }
  .chart { display: table; width: 100%; font-size: var(--type); line-height: 1.05; }
  .chart thead { display: table-header-group; position: static; width: auto; height: auto;
                 overflow: visible; clip-path: none; }
  .chart tbody { display: table-row-group; }
  .chart tr { display: table-row; height: var(--row); border: 0; margin: 0; padding: 0; }
  .chart th { padding: 0 2.5mm 0.5mm 0; border-bottom-width: 1.5pt; }
  .chart td { display: table-cell; padding: 0 2.5mm 0 0; border-bottom: 0.4pt solid var(--grid); }
  .chart td::before { content: none; }
}
</style>
"""


def chart_page(document: dict) -> str:
    """One self-contained HTML page for the data of `chart.chart`; prints on one A4 page up to
    some sixty notes."""
    title = f"{document['what']}: fingering chart"
    if document["slide"]:
        title = f"{document['what']}: slide positions"
    body = (
        f"{STYLE}<h1>{escape(title)}</h1>\n<p>{escape(_about(document))}</p>\n"
        f"{_table(document)}\n<p>{escape(_glossary(document))}</p>\n"
        f"<p>{escape(_players(document))}</p>"
    )
    return page(title, body)


def _about(document) -> str:
    pitch = f"In {document['pitched_in']}. " if document["pitched_in"] != "C" else ""
    slides = "with the slides out as told"
    if document["slide"]:
        slides = "with the slide where it is told"
    return (
        f"{pitch}A4 = {document['a4_hz']:g} Hz, air at {document['celsius']:g} degrees C. "
        f"{document['tuning']}{' ' if document['tuning'] else ''}"
        f"Cents: where the note rests at mf, not lipped, {slides}."
    )


def _players(document) -> str:
    """Where the model agrees with what players find, and where not."""
    apart = [f"{_names(name)} ({held}: players find it {players})"
             for name, held, players in disagreements(document)]  # fmt: skip
    told = f" They are {', '.join(apart)}." if apart else ""
    return f"{weighed(document)}{told}"


def _glossary(document) -> str:
    slide, out = "", "; (out 9): with that combination’s slide 9 mm out"
    if document["slide"]:
        out = ""
        slide = (
            "Position 1: slide in; each further one a semitone; “at”: where it is in tune, or "
            "nearest to it. "
        )
    return (
        f"{slide}Written: the note on the page. Sounding: the note heard. "
        "Cents: hundredths of a semitone. Partial: the register, counted from the lowest note "
        f"of the tube. Alternatives: the nearest in pitch first{out}. "
        f"{NOTHING}: not on this instrument."
        f"{' Pedal: little holds it, the lips set its pitch.' if _pedals(document) else ''}"
    )


def _pedals(document) -> bool:
    return any(o["pedal"] for note in document["notes"] for o in note["options"])


def _table(document) -> str:
    notes = document["notes"]
    row = min(max(ROOM_MM / (len(notes) + 1), ROW_MM[0]), ROW_MM[1])
    kind = "Position" if document["slide"] else "Valves"
    head = ("Written", "Sounding", "Hz", kind, "Slide at", "Cents", "Slide", "Partial",
            "Alternatives")  # fmt: skip
    pulls = any(pull_words(o) for n in notes for o in n["options"][:1])
    unused = {"Slide"} if document["slide"] else {"Slide at", "" if pulls else "Slide"}
    if all(n["written"] == n["sounding"] for n in notes):
        unused = {*unused, "Sounding"}
    head = tuple(h for h in head if h not in unused)
    cells = "".join(
        f'<th role="columnheader" scope="col" data-name="{name}">{name}</th>' for name in head
    )
    rows = "\n".join(_row(note, head, document["slide"]) for note in reversed(notes))
    size = f"--row: {row:.2f}mm; --type: {min(10.2, row * POINTS_A_MM):.1f}pt"
    return (
        f'<table class="chart" role="table" style="{size}">\n'
        f'<thead role="rowgroup"><tr role="row">{cells}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{rows}\n</tbody>\n</table>'
    )


def _row(note, head, slide: bool) -> str:
    options = note["options"]
    first = options[0] if options else None
    tuned = first and slide and not first["pedal"]
    values = {
        "Written": ("note", _names(note["written"])),
        "Sounding": ("", _names(note["sounding"])),
        "Hz": ("", f"{note['frequency_hz']:.1f}"),
        "Position" if slide else "Valves": ("hold", _held(first, slide) if first else NOTHING),
        "Slide at": ("", f"{first['tuned_position']:.2f}" if tuned else ""),
        "Cents": ("", _cents(first) if first else ""),
        "Slide": ("", pull_words(first).replace(" slide", "") if first else ""),
        "Partial": ("", str(first["partial"]) if first else ""),
        "Alternatives": ("more", _alternatives(options[1:], slide) if first else ABSENT),
    }
    cells = "".join(
        f'<td role="cell" class="{values[name][0]}" data-name="{name}">'
        f"{escape(values[name][1])}</td>"
        for name in head
    )
    open_note = first and first["valves"] == "0" and first["slide_position"] == 1
    classes = ["open"] * bool(open_note) + ["top"] * (parse_note(note["written"]) % 12 == 11)
    return f'<tr role="row" class="{" ".join(classes)}">{cells}</tr>'


def _held(one, slide: bool) -> str:
    return f"{one['slide_position']:.3g}" if slide else how(one, slide)


def _alternatives(options, slide: bool) -> str:
    """The nearest in pitch, as many as stand on one line."""
    shown = ""
    for one in (o for o in options if o["pedal"] or abs(o["cents"]) <= NEAR):
        out = round(one["first_slide_pull_mm"] + one["third_slide_pull_mm"])
        words = f"{how(one, slide)}: {_cents(one)}" + (f" (out {out})" if out else "")
        if len(shown) + len(words) > LONGEST_LINE:
            break
        shown += (",  " if shown else "") + words
    return shown.replace("-", NO_BREAK_HYPHEN)


def _names(name: str) -> str:
    """Both names of a black key, with their signs."""
    semitone = parse_note(name)
    both = dict.fromkeys(note_name(semitone, s) for s in ("sharps", "flats"))
    return " ".join(n.replace("#", "♯").replace("b", "♭") for n in both)


def _cents(one) -> str:
    return "pedal" if one["pedal"] else short_words(one["cents"])
