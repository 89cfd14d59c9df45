"""Conversions, cents and note names.

Equal temperament after ISO 16:1975 (A4 = 440 Hz) with the usual numbering of
semitones, 69 for A4: f = a4 * 2^((m - 69)/12).
"""

import math
import re

A4_SEMITONE = 69
MM = 1e-3  # m
KPA = 1e3  # Pa
LITRE = 1e-3  # m3
ML = 1e-6  # m3
PERCENT = 0.01
KELVIN = 273.15  # K at 0 degrees C
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ACCIDENTALS = {"": 0, "b": -1, "♭": -1, "#": 1, "♯": 1}
NAMES = {
    "flats": ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"),
    "sharps": ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"),
}
NOTE = re.compile(r"([A-Ha-h])([b♭#♯]?)(-?\d)")
LATIN = dict(zip(("do", "re", "mi", "fa", "sol", "la", "si"), "CDEFGAB", strict=True))
GERMAN = {f"{c}is": f"{c.upper()}#" for c in "cdefgab"} | {
    f"{c}es": f"{c.upper()}b" for c in "cdfg"
}
GERMAN |= {"h": "B", "hb": "Bb", "his": "B#", "hes": "Bb", "es": "Eb", "as": "Ab"}
SPOKEN = {" sharp": "#", " flat": "b", "-sharp": "#", "-flat": "b", "♯": "#", "♭": "b", "é": "e"}
LONGEST_NAME = 20  # letters
MINUS = "\N{MINUS SIGN}"


def cents(frequency, reference):
    """Interval from `reference` to `frequency` in cents, positive when sharp."""
    return 1200.0 * math.log2(frequency / reference)


def parse_note(text: str) -> int:
    """Semitone number of a note name such as "C4", "Bb3", "B♭3" or "F#5".

    Raises ValueError with what is allowed; "H" is refused with a hint.
    """
    match = NOTE.fullmatch(str(text).strip())
    allowed = 'expected a note such as "C4", "Bb3" or "F#5"'
    if not match or match[1] in "Hh":
        raise ValueError(allowed + _meant(str(text)))
    letter, accidental, octave = match.groups()
    if letter.islower():
        raise ValueError(f'{allowed}; write the letter as a capital: "{letter.upper()}"')
    number = 12 * (int(octave) + 1) + STEPS[letter] + ACCIDENTALS[accidental]
    if not 0 <= number <= 127:
        raise ValueError('expected a note from "C-1" to "G9"')
    return number


def _meant(text: str) -> str:
    """What a note's name in German, Latin or in words means here; "" where it is none."""
    written = text.strip().lower()
    if len(written) > LONGEST_NAME:
        return ""
    for word, sign in SPOKEN.items():
        written = written.replace(word, sign)
    name, octave = re.fullmatch(r"(.*?)\s*(-?\d)?", written, re.S).groups()
    latin = re.fullmatch(rf"({'|'.join(LATIN)}|[a-g](?=[#b]))([#b]?)", name)
    here = GERMAN.get(name)
    if latin:
        here = LATIN.get(latin[1], latin[1].upper()) + latin[2]
    if here is None or (octave is None and latin and latin[1] not in LATIN):
        return ""
    told = "" if octave else " (with its octave)"
    meant = f'; did you mean "{here}{octave or 4}"{told}?'
    if name.startswith("h"):
        return f'; "H" is not used here: write "B" for B natural, "Bb" for B flat{meant}'
    return meant if latin else f'{meant} "B" is B natural here, "Bb" is B flat'


def note_name(semitone: int, spelling: str = "flats") -> str:
    """Name of a semitone number, "flats" or "sharps"."""
    octave, step = divmod(int(semitone), 12)
    return f"{NAMES[spelling][step]}{octave - 1}"


def note_frequency(semitone: float, a4: float = 440.0) -> float:
    """Frequency in Hz of a (possibly fractional) semitone number."""
    return a4 * 2.0 ** ((semitone - A4_SEMITONE) / 12.0)


def nearest_note(frequency: float, a4: float = 440.0) -> tuple[int, float]:
    """Nearest semitone number and the cents from it, positive when sharp."""
    exact = A4_SEMITONE + 12.0 * math.log2(frequency / a4)
    semitone = math.floor(exact + 0.5)
    return semitone, 100.0 * (exact - semitone)


def sharp_or_flat(value: float) -> str:
    """Cents as a teacher reads them: "12 cents sharp", "3 cents flat", "in tune"."""
    rounded = round(value)
    if rounded == 0:
        return "in tune"
    plural = "" if abs(rounded) == 1 else "s"
    return f"{abs(rounded)} cent{plural} {'sharp' if rounded > 0 else 'flat'}"
