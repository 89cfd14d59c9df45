"""A chart of every note of an instrument with its fingerings or positions."""

import csv
import io

from lipmodel.bore.valves import has_mark
from lipmodel.player.fingering_options import Option, compass, options, spoken
from lipmodel.player.instrument import Instrument
from lipmodel.units import note_frequency

COLUMNS = (
    "written", "sounding", "frequency_hz", "usual", "valves", "slide_position", "tuned_position",
    "partial", "cents", "cents_unpulled", "first_slide_pull_mm", "third_slide_pull_mm",
    "resonance_hz",
)  # fmt: skip


def chart(instrument: Instrument) -> dict:
    """The chart as plain data, cents and Hz: every note of the compass, its options in the order
    of `tuning.options`; no options where the instrument does not have the note."""
    return {
        "what": instrument.name,
        "celsius": instrument.celsius,
        "a4_hz": instrument.a4,
        "pitched_in": instrument.spec.pitched_in,
        "slide": has_mark(instrument.spec, "slide"),
        "notes": [
            {
                **instrument.names(semitone),
                "frequency_hz": note_frequency(semitone, instrument.a4),
                "options": [one.row() for one in options(instrument, semitone)],
            }
            for semitone in compass(instrument)
        ],
    }


def how(row: dict, slide: bool) -> str:
    """How an option of the chart is held, in words: "open", "1-3", "4 (at 3.87)"."""
    if not slide:
        return spoken(row["valves"])
    return f"{row['slide_position']:.3g} (at {row['tuned_position']:.2f})"


def pull_words(row: dict) -> str:
    """Which valve slide is out and how far, or nothing."""
    for slide in ("first", "third"):
        mm = round(row[f"{slide}_slide_pull_mm"])
        if mm:
            return f"{slide} slide out {mm} mm"
    return ""


def option_words(one: Option) -> str:
    """How an option is held: "valves 1-3, third slide out 9 mm", "position 4 (at 3.87)"."""
    row, pull = one.row(), pull_words(one.row())
    slide = one.tuned_position is not None
    words = f"position {how(row, slide)}" if slide else valve_words(one.way.valves)
    return f"{words}{pull and ', '}{pull}"


def valve_words(valves: str) -> str:
    """ "open", "valve 2", "valves 1-3"."""
    kind = "" if valves == "0" else "valves " if len(valves) > 1 else "valve "
    return f"{kind}{spoken(valves)}"


def chart_csv(document: dict) -> str:
    """The chart as CSV text, a line for every option; a note without one has empty cells."""
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\n")
    table.writeheader()
    for note in document["notes"]:
        shared = {key: note[key] for key in COLUMNS[:3]}
        for row in note["options"] or [{}]:
            cells = {key: "" if value is None else value for key, value in row.items()}
            table.writerow(shared | cells)
    return out.getvalue()
