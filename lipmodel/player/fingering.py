"""Which valves or slide position a player uses for a note.

Usual: the shortest tube that brings some open partial down to the note (common practice, no
published source).  Partials 7, 11 and 13 to 15 are passed over, since valves leave them too far
off pitch; a slide is moved until they are in tune, so that it may use the seventh.  The first is
the pedal note; partials above the 12th serve only notes above it.
"""

from dataclasses import dataclass
from itertools import combinations

from lipmodel.bore.bore_file import BoreFile
from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.units import parse_note

LOWERS = {1: 2, 2: 1, 3: 3, 4: 5}  # semitones by which a valve lowers
PEDAL, HIGH = 1, 12  # partials: of the pedal note; above it every other one is a high note
USUAL_PARTIALS = (1, 2, 3, 4, 5, 6, 8, 9, 10, 12, 16)
# above the first, to the nearest semitone; the seventh is 31 cents under its own
SEMITONES = {
    1: 0, 2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 7: 34, 8: 36, 9: 38, 10: 40, 12: 43, 16: 48
}  # fmt: skip
MIDDLE_C = 60
POSITIONS = range(1, 8)


@dataclass(frozen=True, slots=True)
class Way:
    """How to hold the instrument for a note: valves or slide position, and the partial."""

    valves: str
    slide_position: float
    partial: int


def combinations_of(spec: BoreFile) -> list[tuple[str, int]]:
    """(valves, semitones lowered) of every combination, the shortest first; of two that lower
    alike the one with fewer and with lower-numbered valves goes first, but 1-2 before 3."""
    numbers = valve_numbers(spec)
    found = [
        ("".join(map(str, chosen)) or "0", sum(LOWERS[v] for v in chosen))
        for count in range(len(numbers) + 1)
        for chosen in combinations(numbers, count)
    ]

    def order(one):
        valves, lowered = one
        # the third valve where 1-2 would do is an alternative, not the usual choice
        spared = "3" in valves and not set("12") & set(valves)
        return lowered, spared, len(valves), valves

    return sorted(found, key=order)


def fundamental(spec: BoreFile) -> int:
    """Sounding semitone number of the open tube's first partial; written C3 if not told."""
    if spec.fundamental is not None:
        return parse_note(spec.fundamental)
    return MIDDLE_C - 12 + (spec.transposition_semitones or 0)


def ways(spec: BoreFile, semitone: int) -> list[Way]:
    """All ways to a sounding semitone number, the usual one first; none where there is none."""
    base = fundamental(spec)
    if has_mark(spec, "slide"):
        held = [("0", float(p), p - 1) for p in POSITIONS]
    else:
        held = [(valves, 1.0, lowered) for valves, lowered in combinations_of(spec)]
    return [
        Way(valves, position, n)
        for valves, position, lowered in held
        for n in usable_partials(position)
        if semitone + lowered == base + SEMITONES[n] and serves(n, semitone - base)
    ]


def serves(n: int, above: int) -> bool:
    """Whether partial `n` is used for a note so many semitones above the first one, open."""
    return n <= HIGH or above > SEMITONES[HIGH]


def usable_partials(slide_position: float) -> tuple[int, ...]:
    """Partials that are played, with the slide at a position (1 without a slide)."""
    return USUAL_PARTIALS if slide_position == 1 else tuple(sorted((7, *USUAL_PARTIALS)))


def usual(spec: BoreFile, semitone: int) -> Way | None:
    """The usual way to a sounding semitone number, or None where no series has the note."""
    return next(iter(ways(spec, semitone)), None)
