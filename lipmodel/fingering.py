"""Which valves a player uses for a note.

Usual fingering: the shortest combination that brings some open partial down to the note (common
practice, no published source).  Partials 7, 11 and above 12 are passed over: too far off pitch.
"""

from itertools import combinations

from lipmodel.borefile import BoreFile, valve_numbers

LOWERS = {1: 2, 2: 1, 3: 3, 4: 5}  # semitones by which a valve lowers
USUAL_PARTIALS = (2, 3, 4, 5, 6, 8, 9, 10, 12)
SEMITONES = {2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 8: 36, 9: 38, 10: 40, 12: 43}  # above the first
MIDDLE_C = 60


def combinations_of(spec: BoreFile) -> list[tuple[str, int]]:
    """(valves, semitones lowered) of every combination, the shortest first; of two that lower
    alike the one with fewer and with lower-numbered valves goes first, but 1-2 before 3."""
    numbers = valve_numbers(spec)
    found = [
        ("".join(map(str, chosen)) or "0", sum(LOWERS[v] for v in chosen))
        for count in range(len(numbers) + 1)
        for chosen in combinations(numbers, count)
    ]
    # the third valve alone is an alternative, not the usual choice
    return sorted(found, key=lambda f: (f[1], f[0] == "3", len(f[0]), f[0]))


def fundamental(spec: BoreFile) -> int:
    """Sounding semitone number of the open tube's first partial, written C3."""
    return MIDDLE_C - 12 + (spec.transposition_semitones or 0)


def usual(spec: BoreFile, semitone: int) -> str | None:
    """Usual valves for a sounding semitone number, or None where no series has the note."""
    base = fundamental(spec)
    for valves, lowered in combinations_of(spec):
        if any(semitone + lowered == base + SEMITONES[n] for n in USUAL_PARTIALS):
            return valves
    return None
