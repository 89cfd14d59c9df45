"""Notes on a staff, drawn as SVG: clef, ledger lines, accidentals, words under each note.

Treble clef on G4, bass clef on F3, an accidental before its note: staff notation as in any primer
of music (common practice, no published source).
"""

import re
from html import escape

GAP = 12  # px between two lines
APART, LEFT = 58, 74  # px from note to note, and before the first
STEP = {letter: i for i, letter in enumerate("CDEFGAB")}
BOTTOM = {"treble": 7 * 4 + STEP["E"], "bass": 7 * 2 + STEP["G"]}  # the lowest line
LOW = 7 * 4 + STEP["C"]  # notes that lie under it on average stand in the bass clef
NAME = re.compile(r"([A-G])([b#♭♯]?)(-?\d+)")
# strokes in gaps, from the line that the clef names
CLEFS = {
    "treble": (
        "M.1 .5C-.55 .4-.5-.6.2-.62C1-.62 1.05.95.05 1C-1.25 1-1.35-.75-.55-1.75C.1-2.55.72-3.1"
        ".62-4.1C.5-4.95.02-4.75-.12-4C-.25-3 .32-.6.55 1.85C.65 2.85-.3 3.05-.5 2.4"
    ),
    "bass": "M-.75 0C-.75-1.25 1.1-1.3 1.1.25C1.1 1.5.2 2.3-.8 2.8M1.6-.5v.02M1.6.5v.02",
}
NAMED = {"treble": 2, "bass": 6}  # steps of the named line over the lowest
FLAT = "M-.3-1.6V.55C.35.3.5-.3.2-.42C0-.5-.2-.3-.3-.1"
SHARP = "M-.25-1.1V1.2M.25-1.25V1.05M-.55-.3L.55-.55M-.55.5L.55.25"


def place(name: str) -> int:
    """Steps of the scale from C0 to a note such as "Bb3"; ValueError where it is none.

    >>> place("C4") - place("Bb3")
    1
    """
    match = NAME.fullmatch(name)
    if not match:
        raise ValueError(f"staff: note {name!r}: expected a note such as C4, Bb3 or F#5")
    return 7 * int(match[3]) + STEP[match[1]]


def clef_of(names) -> str:
    """The clef in which these notes need fewer ledger lines, "treble" or "bass"."""
    places = [place(name) for name in names]
    return "bass" if sum(places) < LOW * len(places) else "treble"


def staff(notes, title: str = "Notes") -> str:
    """The staff as one SVG element of its own size; `notes`: (name, words under it) each.

    >>> staff([("C4", "0"), ("Bb4", "1")]).count("<ellipse")
    2
    """
    clef = clef_of([name for name, _ in notes])
    above = [place(name) - BOTTOM[clef] for name, _ in notes]  # steps over the lowest line
    top = GAP * (1.5 + max(2.5, (max(above) - 8) / 2))
    base = top + 4 * GAP
    under = base + GAP * (2.6 + max(1.0, -min(above) / 2))
    width, height = LEFT + APART * len(notes) + GAP, under + 0.6 * GAP
    parts = [_line(GAP / 2, width - GAP / 2, base - i * GAP) for i in range(5)]
    parts.append(_stroke(CLEFS[clef], 2.4 * GAP, base - NAMED[clef] * GAP / 2, 0.2))
    for i, ((name, words), steps) in enumerate(zip(notes, above, strict=True)):
        x, y = LEFT + APART * (i + 0.5), base - steps * GAP / 2
        parts += [_line(x - GAP, x + GAP, base - n * GAP / 2) for n in _ledgers(steps)]
        parts.append(_head(x, y))
        sign = NAME.fullmatch(name)[2]
        if sign:
            parts.append(_stroke(FLAT if sign in "b♭" else SHARP, x - 1.5 * GAP, y, 0.16))
        parts.append(
            f'<text x="{x:g}" y="{under:g}" text-anchor="middle" font-size="18">'
            f"{escape(words)}</text>"
        )
    said = escape(f"{title}: " + ", ".join(f"{name} {words}".strip() for name, words in notes))
    return (
        f'<svg class="staff" role="img" aria-label="{said}" width="{width:g}" '
        f'height="{height:g}" viewBox="0 0 {width:g} {height:g}" fill="currentColor" '
        f'stroke="none" font-family="system-ui, sans-serif">{"".join(parts)}</svg>'
    )


def _ledgers(steps: int) -> list[int]:
    """Steps over the lowest line of the short lines that a note needs."""
    return [*range(-2, steps - 1, -2), *range(10, steps + 1, 2)]


def _head(x: float, y: float) -> str:
    wide, tall = 0.68 * GAP, 0.46 * GAP
    return (
        f'<ellipse cx="{x:g}" cy="{y:g}" rx="{wide:g}" ry="{tall:g}" '
        f'transform="rotate(-18 {x:g} {y:g})"/>'
    )


def _line(left: float, right: float, y: float) -> str:
    return f'<path d="M{left:g} {y:g}H{right:g}" stroke="currentColor" stroke-width="1.3"/>'


def _stroke(path: str, x: float, y: float, width: float) -> str:
    return (
        f'<path d="{path}" transform="translate({x:g} {y:g}) scale({GAP})" fill="none" '
        f'stroke="currentColor" stroke-width="{width:g}" stroke-linecap="round"/>'
    )
