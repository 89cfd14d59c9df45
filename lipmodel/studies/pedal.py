"""What supports a pedal note."""

from lipmodel.analysis.lock import lock_words
from lipmodel.studies.pair import HARMONICS
from lipmodel.units import cents

SUPPORT = 40.0  # cents: nearer than this a resonance holds a harmonic


def pedal_numbers(seen: dict, resonances: list[dict]) -> dict:
    """The portrait of a note at the open tube's fundamental, and which resonances support it.

    `resonances`: rows as in report.json.  support: for each harmonic the nearest resonance and
    how many cents that lies above it; sentences: the same in words.
    """
    note = seen["frequency_hz"]
    support = []
    for n in range(1, HARMONICS + 1):
        nearest = min(resonances, key=lambda r: abs(cents(r["frequency_hz"], n * note)))
        off = cents(nearest["frequency_hz"], n * note)
        support.append(
            {"harmonic": n, "resonance": nearest["n"], "cents": off, "supports": abs(off) < SUPPORT}
        )
    held = [str(s["harmonic"]) for s in support if s["supports"]]
    first = resonances[0]["frequency_hz"]
    off = cents(first, note)
    distance = f"{abs(off):.0f} cents {'above' if off > 0 else 'below'} it"
    words = f"harmonics {', '.join(held)} fall on resonances" if held else "no harmonic is on one"
    lock = "" if seen["lock"] is None else f"; {lock_words(seen['lock'])}"
    sentences = [
        f"The first resonance ({first:.0f} Hz) is {distance}, but {words} within "
        f"{SUPPORT:.0f} cents{lock}."
    ]
    return {
        **{k: seen[k] for k in ("written", "frequency_hz", "lock", "impedance", "curve_hz")},
        "curve": seen["curve"], "resonances": resonances, "support": support,
        "sentences": sentences,
    }  # fmt: skip
