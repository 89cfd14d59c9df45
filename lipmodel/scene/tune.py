"""The short form of a tune: one line of notes and beats, with slurs, marks, dynamics and breaths.

Ten examples:
    C4 1, D4 1, E4 2            notes and beats, each note tongued softly
    C4 1, - 1, C4 0.5           a rest of a beat, a note of half a beat
    (C4 1, E4 1, G4 2)          slurred: one breath, no tongue
    C4 1., C4 1., C4 2          detached: half of its length sounds
    C4 1_, D4 1_, E4 2          broad: the softest tongue
    C4 1^, D4 1                 accented
    C4 2', G4 2                 a breath is taken at the end of the first note
    p C4 1, D4 1, f E4 2        soft, then loud from the third note on
    p < C4 1, D4 1, E4 1, f F4 2    swells from p at the first note to f at the last
    f > C5 4, pp                fades within the last note
"""

import re
from dataclasses import dataclass, replace

from lipmodel.files import schema
from lipmodel.files.schema import Problem
from lipmodel.units import parse_note

MOST_NOTES = 5000
BEATS = (0.125, 64.0)
REST, BREATH = "-", "'"
DYNAMIC_WORDS = ("pp", "p", "mp", "mf", "f", "ff")
MARKS = {".": "detached", "_": "legato", "^": "accent"}
SWELLS = "<>"
BEFORE = re.compile(rf"[<>(]|(?:{'|'.join(DYNAMIC_WORDS)})(?=[\s<>(]|$)")
NOTE = re.compile(r"(\S+)\s+(\d{1,3}(?:\.\d{1,6})?)\s*([._^'\s]*)")
EXPECTED = 'expected a note and its beats, such as "C4 1", or "- 1" for a rest'


@dataclass(frozen=True)
class TuneItem:
    """A note, or a rest (name "-"), and how it is played.

    start, length: beats; slur: into the next note; breath: one is taken at its end; dynamics:
    None, or (beat, word) pairs, straight lines of pressure between, None for the player's own.
    """

    name: str
    start: float
    length: float
    slur: bool = False
    articulation: str | None = None
    breath: bool = False
    dynamics: tuple[tuple[float, str | None], ...] | None = None

    @property
    def end(self) -> float:
        """When it ends, beats."""
        return self.start + self.length


def parse_tune(written: str) -> list[TuneItem]:
    """The notes and rests of a tune, in beats from its start.

    Raises ValueError with every bad item and its number.
    >>> [item.name for item in parse_tune("(C4 1, D4 1), - 1")]
    ['C4', 'D4', '-']
    """
    texts = [text.strip() for text in written.strip().removesuffix(",").split(",")]
    if len(texts) > MOST_NOTES:
        raise ValueError(f"expected up to {MOST_NOTES} items")
    reading, found = _Reading(), []
    for number, text in enumerate(texts, 1):
        try:
            reading.take(text, last=number == len(texts))
        except ValueError as error:
            found.append(
                Problem((), None, f"item {number} {schema.quoted(text)}: {error}", "plain")
            )
    if found:
        schema.raise_problems(*found)
    if all(item.name == REST for item in reading.items):
        raise ValueError("expected at least one note")
    return reading.done()


class _Reading:
    """What is open while a tune is read from left to right: a slur, a swell, a dynamic."""

    def __init__(self):
        self.items: list[TuneItem] = []
        self.at = 0.0
        self.word: str | None = None
        self.slur: int | None = None  # number of its first item
        self.swell: tuple[str, int, float] | None = None  # sign, its first item, its beat

    def take(self, text: str, last: bool):
        """Read one item."""
        before, rest = [], text
        while match := BEFORE.match(rest):
            before.append(match[0])
            rest = rest[match.end() :].lstrip()
        closes = rest.endswith(")")
        rest = rest.removesuffix(")").rstrip()
        for sign in before:
            self._sign(sign)
        if not rest and before and last and not closes:
            return  # the dynamic that a swell ends with
        self._note(rest)
        if closes:
            self._close()

    def _sign(self, sign: str):
        if sign == "(":
            if self.slur is not None:
                raise ValueError('expected ")" before another "("')
            self.slur = len(self.items)
        elif sign in SWELLS:
            if self.swell is not None:
                raise ValueError(f'expected a dynamic, such as "f", before another "{sign}"')
            self.swell = sign, len(self.items), self.at
        else:
            if self.swell is not None:
                self._swell(sign)
            self.word = sign

    def _swell(self, word: str):
        """From the dynamic before to `word`, over the notes since the sign."""
        (sign, first, begin), self.swell = self.swell, None
        order = DYNAMIC_WORDS.index
        if self.word and (order(word) > order(self.word)) != (sign == "<"):
            more = "louder" if sign == "<" else "softer"
            raise ValueError(f'expected a dynamic {more} than {self.word} after "{sign}"')
        line = ((begin, self.word), (self.at, word))
        for number in range(first, len(self.items)):
            self.items[number] = replace(self.items[number], dynamics=line)

    def _note(self, text: str):
        match = NOTE.fullmatch(text)
        if not match:
            raise ValueError(EXPECTED)
        name, beats, marks = match[1], float(match[2]), "".join(match[3].split())
        if name != REST:
            parse_note(name)
        low, high = BEATS
        if not low <= beats <= high:
            raise ValueError(f"expected {low:g} to {high:g} beats")
        kinds = [MARKS[mark] for mark in marks if mark != BREATH]
        if len(kinds) > 1 or marks.count(BREATH) > 1 or (marks and name == REST):
            raise ValueError('expected at most one of ". _ ^" and one "\'", after a note')
        if self.slur is not None and self.slur < len(self.items):
            if name == REST or self.items[-1].breath:
                raise ValueError("expected neither a rest nor a breath inside a slur")
            if kinds:
                raise ValueError("expected a mark on the first note of a slur only")
            self.items[-1] = replace(self.items[-1], slur=True)
        item = TuneItem(
            name, self.at, beats, False, kinds[0] if kinds else None, BREATH in marks,
            self.word and ((self.at, self.word),),
        )  # fmt: skip
        self.items.append(item)
        self.at += beats

    def _close(self):
        if self.slur is None:
            raise ValueError('expected "(" before ")"')
        if len(self.items) - self.slur < 2:
            raise ValueError('expected two notes or more between "(" and ")"')
        self.slur = None

    def done(self) -> list[TuneItem]:
        """The items; ValueError where something is still open."""
        if self.slur is not None:
            raise ValueError('expected ")" to end the slur')
        if self.swell is not None:
            raise ValueError(f'expected a dynamic, such as "f", to end the "{self.swell[0]}"')
        return self.items
