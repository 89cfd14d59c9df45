"""The built-in instruments and parts: bore files beside this module, read when asked for."""

import re
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import BoreFile, read_bore_file
from lipmodel.bore.geometry import Bore
from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.errors import SceneError
from lipmodel.files.schema import did_you_mean, one_of, quoted

LONGEST_NAME = 60  # letters that are looked at for what is meant
CALLED = {  # what else an instrument is called
    "alto_horn": "tenor_horn",
    "posaune": "trombone",
    "sackbut": "trombone",
    "waldhorn": "horn",
    "sousaphone": "tuba",
    "trompete": "trumpet",
    "kornett": "cornet",
}
FOLDER = Path(__file__).parent


@cache
def names() -> tuple[str, ...]:
    """Names of the built-in instruments: those for playing first, then those for teaching."""
    found = sorted((path.stem for path in FOLDER.glob("*.toml")), key=_counted)
    return tuple(sorted(found, key=lambda name: spec(name).kind != "instrument"))


def _counted(name: str):
    """Sort key that counts a number at the end: 25 before 100."""
    word, _, number = name.rpartition("_")
    return (word, int(number)) if number.isdigit() else (name, 0)


@cache
def part_names(kind: str) -> tuple[str, ...]:
    """Names of the built-in parts of a kind: "mouthpiece", "leadpipe" or "bell"."""
    found = (FOLDER / "parts").glob(f"{kind}_*.toml")
    return tuple(sorted(path.stem.removeprefix(f"{kind}_") for path in found))


@cache
def spec(name: str) -> BoreFile:
    """The bore file of a built-in instrument; SceneError with the list if there is none."""
    known = sorted(path.stem for path in FOLDER.glob("*.toml"))
    if name not in known:
        raise SceneError(f"instrument {quoted(name)}: {unknown(name, names())}")
    return read_bore_file(FOLDER / f"{name}.toml")


@cache
def part(kind: str, name: str) -> BoreFile:
    """The bore file of a built-in part; SceneError with the list if there is none."""
    if name not in part_names(kind):
        raise SceneError(f"{kind} {quoted(name)}: {unknown(name, part_names(kind))}")
    return read_bore_file(FOLDER / "parts" / f"{kind}_{name}.toml")


def instrument(name: str, valves="0", slide_position: float = 1.0) -> Bore:
    """The bore of a built-in instrument with valves pressed ("0", "2", "13") or the slide at 1
    to 7.  Raises SceneError for a name that is not built in.

    >>> round(instrument("trumpet").length, 2), round(instrument("trumpet", "13").length, 2)
    (1.37, 1.83)
    """
    return to_bore(spec(name), valves=valves, slide_position=slide_position)


def unknown(name: str, known) -> str:
    """What is allowed instead of `name`: the list, and the nearest."""
    if not known:
        return "none is built in"
    words = re.sub(r"[\s-]+", "_", name[:LONGEST_NAME].strip().lower())
    last = words.rpartition("_")[2]
    meant = next((w for w in (words, CALLED.get(words), last) if w in known), None)
    near = f"; did you mean {meant}?" if meant else did_you_mean(name, known)
    return f"expected {one_of(known)}{near}"


@dataclass(frozen=True)
class InstrumentInfo:
    """What is built in under a name: "instrument" or "teaching", sizes in m and mm; open_note is
    that of the open tube, without its octave."""

    name: str
    title: str
    kind: str
    length_m: float
    bore_mm: float | None
    bell_mm: float
    pitched_in: str | None
    transposition_semitones: int | None
    valves: int
    slide: bool
    player: str
    open_note: str | None = None

    def to_dict(self) -> dict:
        """A row of `instruments --json`."""
        return asdict(self)


def instruments() -> tuple[InstrumentInfo, ...]:
    """What is built in: instruments to play first, then tubes for teaching.

    >>> [one.name for one in instruments()][:2]
    ['baritone', 'bugle']
    """
    return tuple(info(name) for name in names())


def info(name: str) -> InstrumentInfo:
    """The facts of one built-in bore."""
    built_in = spec(name)
    bore = to_bore(built_in)
    cylinders = [s.diameter_mm for s in built_in.section if s.shape == "cylinder"]
    return InstrumentInfo(
        name=name,
        title=built_in.title,
        kind=built_in.kind,
        length_m=round(bore.length, 4),
        bore_mm=cylinders[0] if cylinders else None,
        bell_mm=round(2e3 * float(bore.radius[-1]), 2),
        pitched_in=built_in.pitched_in,
        transposition_semitones=built_in.transposition_semitones,
        valves=len(valve_numbers(built_in)),
        slide=has_mark(built_in, "slide"),
        player=built_in.player,
        open_note=(built_in.fundamental or built_in.pitched_in).rstrip("-0123456789"),
    )
