"""Headings, which name comes first, and the names of frequencies."""

from lipmodel.units import nearest_note, note_name, parse_note

AS_WRITTEN = ("", "as written")  # a variant of this name is the scene itself


def heading(report: dict) -> str:
    """The scene's title, and the variant's name where it is not the scene as written."""
    title = report.get("title") or report.get("scene") or "What was played"
    variant = report.get("variant") or ""
    return title if variant in AS_WRITTEN else f"{title}: {variant}"


def name_first(report: dict) -> str:
    """Which of a note's two names this scene shows first, "written" or "sounding"."""
    return report.get("inputs", {}).get("notes", {}).get("read_as", "written")


def transposition(report: dict) -> int:
    """Written minus sounding in semitones, from the first thing that has both names."""
    for thing in (*report["resonances"], *report["notes"]):
        if thing.get("written") and thing.get("sounding"):
            return parse_note(thing["written"]) - parse_note(thing["sounding"])
    return 0


def name_of(report: dict, frequency: float, how: str) -> str:
    """The note nearest to `frequency` Hz, as `how` ("written" or "sounding") names it."""
    notes = report.get("inputs", {}).get("notes", {})
    semitone, _ = nearest_note(frequency, notes.get("a4_hz", 440.0))
    shift = transposition(report) if how == "written" else 0
    return note_name(semitone + shift, notes.get("spelling", "flats"))


def called(report: dict, written: str) -> str:
    """A written note as this scene names notes."""
    if name_first(report) == "written":
        return written
    spelling = report.get("inputs", {}).get("notes", {}).get("spelling", "flats")
    return note_name(parse_note(written) - transposition(report), spelling)
