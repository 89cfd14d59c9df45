"""Sentences taken apart, and a report's pitch track read, by code of the tests' own."""

import re
from itertools import pairwise

import numpy as np

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
NUMBERS = ("no", "one", "two", "three", "four", "five", "six")
NUMBERS += ("seven", "eight", "nine", "ten", "eleven", "twelve")
KINDS = {
    "n": r"[-+\d.]+",
    "i": r"\d+",
    "w": r"\w+",
    "t": r".*",
    "T": r"once|\w+ times",
    "N": r"[A-G][b#]?-?\d",
    "L": r"lock [^;]*?(?:\.\d\d)?",
    "H": "The pitch followed the lips|The lips stood still, and the pitch moved|"
    "The player drifted, and the pitch moved",
}
SAME = 60.0  # cents: less from one moment to the next is no jump
LEAST = 0.199  # s that a note lasts
SILENCE = 12  # frames of 10 ms: more without a pitch is a silence


def pattern(words: str) -> str:
    """A regular expression of a sentence: {hz:n} is a number (KINDS), <why: ...> may be missing
    and is then the group `why`, | stands between two sentences."""
    out = ""
    for part in re.split(r"(\{\w+:\w\}|<\w+:|>|\|)", words):
        if named := re.fullmatch(r"\{(\w+):(\w)\}", part):
            out += f"(?P<{named[1]}>{KINDS[named[2]]})"
        elif part.startswith("<"):
            out += f"(?P<{part[1:-1]}>"
        else:
            out += {">": ")?", "|": "|"}.get(part, re.escape(part))
    return out


def number(word) -> int:
    return NUMBERS.index(word) if word in NUMBERS else int(word)


def times(words) -> int:
    return 1 if words == "once" else number(words.removesuffix(" times"))


def semitone(name) -> int:
    letter, sign, octave = re.fullmatch(r"([A-G])([b#]?)(-?\d+)", name).groups()
    return LETTERS[letter] + {"": 0, "b": -1, "#": 1}[sign] + 12 * (int(octave) + 1)


def cents(a, b) -> float:
    return float(1200 * np.log2(a / b))


def off_name(report, frequency, name, how) -> float:
    """Cents from the note that `name` (written or sounding) stands for to `frequency` Hz."""
    up = -(report["bore"].get("transposition_semitones") or 0) if how == "written" else 0
    a4 = report["inputs"]["notes"]["a4_hz"]
    return cents(frequency, a4 * 2 ** ((semitone(name) - up - 69) / 12))


def track(report):
    t = np.array(report["pitch"]["time_s"])
    heard = [np.nan if f is None else f for f in report["pitch"]["frequency_hz"]]
    return t, np.array(heard, float)


def stretches(report):
    """(first, last) frame of every stretch that lasts and in which the pitch does not jump."""
    t, hz = track(report)
    c, found, i = 1200 * np.log2(hz), [], 0
    wide = np.full(len(c), 0.0)
    wide[3:-3] = np.abs(c[6:] - c[:-6])
    calm = np.isfinite(c) & ~(wide > SAME)
    while i < len(c):
        j = i
        while calm[i] and j + 1 < len(c) and calm[j + 1] and abs(c[j + 1] - c[j]) <= SAME:
            j += 1
        if calm[i] and t[j] - t[i] >= LEAST:
            found.append((i, j))
        i = j + 1
    return found


def leaps(report) -> list[tuple[float, float, float]]:
    """(s, Hz before, Hz after) of every jump from one note to the next in the pitch track."""
    t, hz = track(report)
    # lips that drift take a free pitch along: by three deviations from one frame to another
    drift = 3 * report.get("steadiness", {}).get("lip_drift_cents", 0)
    return [
        ((t[b] + t[c]) / 2, hz[b], hz[c])
        for (_, b), (c, _) in pairwise(stretches(report))
        if np.isnan(hz[b:c]).sum() <= SILENCE and abs(cents(hz[c], hz[b])) >= SAME + drift
    ]


def close(told, value, half) -> bool:
    """Whether a printed number is the value, to half a unit of its last digit."""
    if told == "less than 0.1":
        return value < 0.05
    return abs(float(told) - value) <= half * (1 + 1e-9)


def lock_told(words, lock) -> bool:
    if lock < 0:
        return words == "lock less than 0: the pitch moves further than the lips"
    if lock > 1:
        return words == "lock over 1: the pitch moves against the lips"
    return bool(re.fullmatch(r"lock [01]\.\d\d", words)) and close(words[5:], lock, 0.005)
