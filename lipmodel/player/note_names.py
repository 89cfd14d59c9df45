"""Frequencies as written and sounding notes; rows of resonances."""

from lipmodel.player.cached import kept_resonances
from lipmodel.units import cents, nearest_note, note_name


def note_names(built, frequency) -> dict:
    """sounding and written name and cents from equal temperament of a frequency in Hz."""
    notes = built.scene.notes
    semitone, off = nearest_note(frequency, notes.a4_hz)
    return {
        "sounding": note_name(semitone, notes.spelling),
        "written": note_name(semitone - built.transposition, notes.spelling),
        "cents": round(off, 2),
    }


def resonance_rows(built, bore=None) -> list[dict]:
    """The resonances of the built bore (or another one in the same air) for a report."""
    return rows_of(built, kept_resonances(built.bore if bore is None else bore, built.air))


def rows_of(built, resonances) -> list[dict]:
    """A list of `Resonance` for a report."""
    return [
        {
            "n": r.n,
            "frequency_hz": r.frequency,
            "magnitude_pa_s_m3": r.magnitude,
            "quality": r.quality,
            **note_names(built, r.frequency),
        }
        for r in resonances
    ]


def nearest_partial(rows, frequency):
    """Row of the resonance nearest in cents, ties upward; None without resonances."""
    if not rows:
        return None
    return min(rows, key=lambda r: (abs(cents(frequency, r["frequency_hz"])), -r["n"]))
