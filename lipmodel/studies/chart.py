"""A chart of every note of an instrument with its fingerings or positions."""

import csv
import io
from functools import partial

from lipmodel.bore.valves import has_mark
from lipmodel.player.fingering_options import Option, compass, options, pedals, spoken
from lipmodel.player.instrument import Instrument
from lipmodel.player.tuning_slide import Tuned
from lipmodel.studies.tendencies import tendency
from lipmodel.units import note_frequency, sharp_or_flat

COLUMNS = (
    "written", "sounding", "frequency_hz", "usual", "valves", "slide_position", "tuned_position",
    "partial", "cents", "cents_unpulled", "first_slide_pull_mm", "third_slide_pull_mm",
    "resonance_hz", "rest_cents",
)  # fmt: skip


def chart(instrument: Instrument, tuned: Tuned | None = None, reach=lambda *how: None) -> dict:
    """The chart as plain data, cents and Hz: pedal notes that speak, then every note of the
    compass, its options in the order of `fingering_options.options`; no options where the
    instrument does not have the note.

    tuned: what was done to its tuning slide; reach(done, total, words) is told what
    is played.
    """
    notes = [*pedals(instrument), *compass(instrument)]
    rows = []
    for done, semitone in enumerate(notes):
        rows.append(_note(instrument, semitone, partial(reach, done, len(notes))))
    first = compass(instrument).start
    return {
        "what": instrument.name,
        "celsius": instrument.celsius,
        "a4_hz": instrument.a4,
        "pitched_in": instrument.spec.pitched_in,
        "slide": has_mark(instrument.spec, "slide"),
        "tuning_slide_pull_mm": instrument.tuning_slide_pull_mm,
        "tuning": tuned.words if tuned else "",
        "notes": [row for semitone, row in zip(notes, rows, strict=True)
                  if semitone >= first or row["options"]],
    }  # fmt: skip


def _note(instrument: Instrument, semitone: int, say) -> dict:
    return {
        **instrument.names(semitone),
        "frequency_hz": note_frequency(semitone, instrument.a4),
        "options": [_option(instrument, one) for one in options(instrument, semitone, say)],
    }


def _option(instrument: Instrument, one: Option) -> dict:
    known = tendency(instrument, one.way) if one.cents_unpulled is not None else None
    return {**one.row(), "tendency": known and known.row(one.cents_unpulled)}


def gives(row: dict) -> str:
    """What an option gives: "24 cents sharp", or that it is a pedal note."""
    return f"pedal, from {row['pedal']['from']}" if row["pedal"] else sharp_or_flat(row["cents"])


def range_words(row: dict) -> str:
    """Where the note rests softly and loudly, held as told: "9 flat at p to 21 sharp at f"."""
    if row["cents"] is None or not {"p", "mf", "f"} <= row["rests"].keys():
        return ""
    held = row["cents"] - row["rests"]["mf"]
    soft, loud = (short_words(row["rests"][m] + held) for m in ("p", "f"))
    return f"{soft} at p to {loud} at f"


def short_words(off: float) -> str:
    """Cents without the word: "9 flat", "in tune"."""
    return sharp_or_flat(off).replace(" cents", "").replace(" cent", "")


def disagreements(document: dict) -> list[tuple[str, str, str]]:
    """(written note, how it is held, what players find) of the usual ways about which the model
    and players disagree."""
    return [
        (note["written"], how(one, document["slide"]), one["tendency"]["players"])
        for note in document["notes"]
        for one in note["options"][:1]
        if one["tendency"] and one["tendency"]["agrees"] is False
    ]


def weighed(document: dict) -> str:
    """How many of the usual ways with a known tendency agree with players, in a sentence."""
    known = [
        one["tendency"]["agrees"]
        for note in document["notes"]
        for one in note["options"][:1]
        if one["tendency"]
    ]
    if not known:
        return ""
    return (
        f"What players find sharp or flat (common practice, no published source): of {len(known)} "
        f"notes the model agrees on {known.count(True)}, finds {known.count(None)} in tune and "
        f"disagrees with players on {known.count(False)}."
    )


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
            cells = {k: "" if row[k] is None else row[k] for k in COLUMNS[3:] if k in row}
            table.writerow(shared | cells)
    return out.getvalue()
