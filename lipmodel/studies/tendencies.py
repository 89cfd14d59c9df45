"""What players find sharp or flat, and whether the model agrees.

Rough cents from equal temperament, the tuning slide set, no valve slide pulled.  From memory:
common practice, no published source, but for 1-3 and 1-2-3 on the second partial.
"""

from dataclasses import dataclass

from lipmodel.bore.valves import has_mark
from lipmodel.player.fingering import PEDAL, Way
from lipmodel.player.instrument import Instrument

PRACTICE = "common practice, no published source"
ARTICLE = "an article on valve-combination tuning with cents tables, stated for partial 2"
VALVED = {5: -12.0, 6: 10.0, 7: -31.0, 10: -14.0}
HAND_HORN = {5: -10.0, 7: -31.0, 10: -12.0, 11: -45.0, 13: 40.0, 14: -31.0, 15: -12.0}
COMBINATIONS = {
    "12": 8.0, "13": 15.0, "123": 38.0, "24": 15.0, "14": 12.0, "124": 30.0, "134": 45.0,
    "1234": 70.0,
}  # fmt: skip
PUBLISHED = ("13", "123")
SLIGHT, VERY = 10.0, 25.0  # cents, for the words
NOTHING = 5.0  # cents: less is neither sharp nor flat


@dataclass(frozen=True)
class Tendency:
    """What players find ("very sharp"), roughly how many cents, and who says so."""

    words: str
    cents: float
    source: str

    def agrees(self, off: float) -> bool | None:
        """Whether a note that is `off` cents sharp agrees; None where it is in tune."""
        if abs(off) < NOTHING:
            return None
        return (off > 0) == (self.cents > 0)

    def row(self, off: float) -> dict:
        """As told in JSON."""
        return {
            "players": self.words, "rough_cents": self.cents, "source": self.source,
            "agrees": self.agrees(off),
        }  # fmt: skip

    def sentence(self, off: float) -> str:
        """What players find, and whether the model agrees."""
        start = f"Players find it {self.words} ({self.source})"
        told = {
            True: "the model agrees", None: "in the model it is in tune",
            False: "the model disagrees with players here",
        }  # fmt: skip
        return f"{start}: {told[self.agrees(off)]}."


def tendency(instrument: Instrument, way: Way) -> Tendency | None:
    """What players find of a partial with these valves; None where nothing is known."""
    spec = instrument.spec
    if spec.kind != "instrument" or way.partial == PEDAL:
        return None
    partials = HAND_HORN if spec.hand_in_bell else VALVED
    off = partials.get(way.partial, 0.0)
    if not has_mark(spec, "slide"):
        off += COMBINATIONS.get(way.valves, 0.0)
    if abs(off) < NOTHING:
        return None
    size = "slightly " if abs(off) < SLIGHT else "very " if abs(off) >= VERY else ""
    published = way.partial == 2 and way.valves in PUBLISHED and spec.player == "small"
    words = f"{size}{'sharp' if off > 0 else 'flat'}"
    return Tendency(words, off, ARTICLE if published else PRACTICE)
