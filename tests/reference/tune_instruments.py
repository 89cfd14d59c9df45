"""Tunes the built-in instruments: bores and valve slides on which the calibrated lips play in tune.

    python tests/reference/tune_instruments.py [NAME ...]

Every usual note is played at mf (`player.resting`), which tells how far above its resonance it
rests.  Least squares then move the tube, within bounds and no further than needed, until
resonance and rest together lie where players find the note (`studies.tendencies`), the second
partial of the long combinations included; the resonances themselves are kept near one series,
since upper resonances pull a note whose own lies below it, and it would go down ever further.
Then the notes are played again, since they rest elsewhere on another bore.  The bore files are
written anew; what copies the trumpet's bore (other bells, teaching tubes, parts) follows.  Some
minutes an instrument.
"""

import copy
import re
import sys
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from lipmodel.acoustics.impedance import impedance
from lipmodel.air import Air
from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import parse_bore, read_bore_file
from lipmodel.bore.valves import has_mark
from lipmodel.player import fingering, resting
from lipmodel.player.fingering import POSITIONS, SEMITONES, Way
from lipmodel.player.instrument import CELSIUS, Instrument, brassiness_of
from lipmodel.player.tuning import within_reach
from lipmodel.studies.tendencies import tendency
from lipmodel.units import cents, note_frequency

AIR = Air.at(CELSIUS)
ROUNDS = 2  # of playing and moving
WINDOW = np.arange(-160.0, 161.0, 16.0)  # cents around a note in which its resonance is looked for
WITHIN = 5.0  # cents that weigh as much as one width of a measure
# How far a measure is moved for that, relative: ours.  A mouthpiece is bought, a bell is not.
WIDTHS = {"backbore_end_diameter_mm": 0.03, "end_diameter_mm": 0.10, "flare": 0.15,
          "length_mm": 0.15, "valves": 0.05}  # fmt: skip
FURTHEST = 2.5  # of these
# A. Benade: mouthpipe, cylinder and bell in % of the tube without its mouthpiece
PUBLISHED = {"trumpet": (21, 29, 50), "trombone": (9, 52, 39), "horn": (11, 61, 28)}
NEAR = 9.0  # points from there at most
PARTIALS = {2: 1.0, 3: 1.0, 4: 1.0, 5: 1.0, 6: 1.0, 8: 0.6}  # weights
LONG = 1.5  # weight of the second partial with two valves and more
LONG_HORN = 0.4  # on so much cylinder it can only be had at the cost of the third
# Weight of a resonance's place in the series beside the note's in the scale: more where notes
# rest so unevenly that the series would be bent by more than 15 cents
SERIES = dict.fromkeys(("baritone", "cornet", "euphonium", "tenor_horn"), 1.6) | {"trombone": 1.2}
EVEN = 0.7  # of the others
SHARP = ("horn", "tuba")  # built sharp, where partials are close
NARROWEST_MM = {"trumpet": 8.0}  # leadpipe: below, bare peaks are higher than published
LEAST_BRASSY = {"trombone": 0.61}  # published 0.6 to 0.8: tests/player/test_instrument.py
SLID = 0.3  # weight of a position that the player moves anyway


@dataclass(frozen=True)
class Note:
    """A usual note: how it is held, its pitch in Hz, how much it counts, and the cents at which
    players find it."""

    way: Way
    target: float
    weight: float
    wanted: float


def usual_notes(instrument: Instrument) -> list[Note]:
    spec = instrument.spec
    base = fingering.fundamental(spec)
    if has_mark(spec, "slide"):
        held = [("0", float(p), p - 1) for p in POSITIONS]
    else:
        held = [(valves, 1.0, down) for valves, down in fingering.combinations_of(spec)]
    notes = []
    for valves, position, down in held:
        for n in PARTIALS:
            semitone = base + SEMITONES[n] - down
            way = Way(valves, position, n)
            if fingering.usual(spec, semitone) != way:
                continue
            told = tendency(instrument, way)
            weight = PARTIALS[n] * (SLID if position > 1 else 1.0)
            if n == 2 and len(valves) > 1:
                weight = LONG_HORN if spec.hand_in_bell else LONG
            target = note_frequency(semitone, instrument.a4)
            notes.append(
                Note(within_reach(instrument, way), target, weight, told.cents if told else 0.0)
            )
    return notes


def measures(tables: dict) -> list[tuple]:
    """(section or "valves", key) of every figure that may be moved: six sections, as all have."""
    keys = [(0, "backbore_end_diameter_mm"), (1, "length_mm"), (2, "length_mm")]
    keys += [(i, k) for i in (3, 4) for k in ("length_mm", "end_diameter_mm")]
    keys += [(5, "length_mm"), (5, "flare")]
    return keys + [("valves", k) for k in tables.get("valves", {}) if re.fullmatch("[a-z]+_mm", k)]


def of(tables: dict, key):
    return tables[key[0]] if key[0] == "valves" else tables["section"][key[0]]


def moved(tables: dict, keys, values) -> dict:
    """The bore file with these figures, ends kept together and valves where they were in the
    cylinder's share."""
    new = copy.deepcopy(tables)
    sections = new["section"]
    before = sections[2]["length_mm"]
    for key, value in zip(keys, values, strict=True):
        of(new, key)[key[1]] = float(value)
    sections[1]["start_diameter_mm"] = sections[0]["backbore_end_diameter_mm"]
    for i in (4, 5):
        sections[i]["start_diameter_mm"] = sections[i - 1]["end_diameter_mm"]
    if "valves" in sections[2]:
        share = sections[2]["length_mm"] / before
        sections[2]["valves"] = [[n, at * share] for n, at in sections[2]["valves"]]
    return new


def peaks(tables: dict, wanted: dict[Way, float]) -> dict[Way, float]:
    """Hz of the highest |Z| within `WINDOW` of each wanted resonance."""
    spec, found = parse_bore(tables, "tuned", None), {}
    for held in dict.fromkeys((way.valves, way.slide_position) for way in wanted):
        bore = to_bore(spec, valves=held[0], slide_position=held[1])
        ways = [way for way in wanted if (way.valves, way.slide_position) == held]
        grid = np.concatenate([wanted[way] * 2 ** (WINDOW / 1200) for way in ways])
        order = np.argsort(grid)
        size = np.empty(len(grid))
        size[order] = np.log(np.abs(impedance(bore, AIR, grid[order])))
        for way, row in zip(ways, size.reshape(len(ways), -1), strict=True):
            i = int(np.clip(np.argmax(row), 1, len(row) - 2))
            left, top, right = row[i - 1 : i + 2]
            off = 0.5 * (left - right) / min(left - 2 * top + right, -1e-9)
            off = WINDOW[i] + np.clip(off, -1, 1) * (WINDOW[1] - WINDOW[0])
            found[way] = wanted[way] * 2 ** (off / 1200)
    return found


def tuned(name: str, tables: dict, start: dict, notes: list[Note], rest: dict[Way, float]) -> dict:
    """The bore file on which the notes sound as wanted, as near to `tables` as they let it;
    the search begins at `start`."""
    wanted = resonances_for(notes, rest)
    even = float(np.mean([rest[n.way] for n in notes if is_open(n)]))
    series = resonances_for(notes, dict.fromkeys(rest, even))
    even_weight = SERIES.get(name, EVEN)
    keys = measures(tables)
    usual = np.array([of(tables, k)[k[1]] for k in keys])
    first = np.array([of(start, k)[k[1]] for k in keys])
    width = np.array([WIDTHS["valves" if k[0] == "valves" else k[1]] for k in keys])

    def residuals(steps):
        bore = moved(start, keys, usual * np.exp(width * steps))
        found = peaks(bore, wanted)
        off = [n.weight * up(name, cents(found[n.way], wanted[n.way])) for n in notes]
        off += [even_weight * n.weight * cents(found[n.way], series[n.way]) for n in notes]
        return np.concatenate([np.array(off) / WITHIN, steps, beyond(name, bore)])

    begin = np.clip(np.log(first / usual) / width, -0.99 * FURTHEST, 0.99 * FURTHEST)
    found = least_squares(
        residuals, begin, diff_step=1e-2, bounds=(-FURTHEST, FURTHEST), max_nfev=12
    )
    return moved(start, keys, usual * np.exp(width * found.x))


def beyond(name: str, tables: dict) -> np.ndarray:
    """Five times the points by which mouthpipe, cylinder and bell are too far from published,
    by which hundredth of a mm the leadpipe is too narrow, and thousandth the bore too mild."""
    narrow = max(NARROWEST_MM.get(name, 0.0) - tables["section"][1]["start_diameter_mm"], 0.0)
    if name not in PUBLISHED:
        return np.array([100 * narrow])
    mild = 0.0
    if name in LEAST_BRASSY:
        spec = parse_bore(tables, "tuned", None)
        mild = max(LEAST_BRASSY[name] - brassiness_of(spec, to_bore(spec), AIR), 0.0)
    lengths = np.array([s["length_mm"] for s in tables["section"][1:]])
    parts = np.array([lengths[0], lengths[1], lengths[2:].sum()]) * 100 / lengths.sum()
    return np.array(
        [*(5 * np.maximum(np.abs(parts - PUBLISHED[name]) - NEAR, 0)), 100 * narrow, 1e3 * mild]
    )


def resonances_for(notes: list[Note], rest: dict[Way, float]) -> dict[Way, float]:
    """Hz at which each note's resonance has to lie."""
    return {n.way: n.target * 2 ** ((n.wanted - rest[n.way]) / 1200) for n in notes}


def up(name: str, off: float) -> float:
    """Cents off, and twice as many where a note of these is flat: lips bend down, hardly up."""
    return 2 * off if off < 0 and name in SHARP else off


def rests(instrument: Instrument, notes) -> dict[Way, float]:
    """Cents above its resonance at which each note rests; their mean where none holds it."""
    found = {}
    for note in notes:
        slot = resting.rest(instrument, note.way, note.target)
        if slot is not None:
            near = peaks(instrument.spec.tables(), {note.way: slot.frequency})
            found[note.way] = cents(slot.frequency, near[note.way])
    mean = float(np.mean(list(found.values())))
    return {note.way: found.get(note.way, mean) for note in notes}


def rewritten(text: str, tables: dict) -> str:
    """A bore file's text with the figures of `tables`; comments stay."""
    lines, section, table = [], -1, tables
    for line in text.splitlines():
        if line.startswith("["):
            section += line.startswith("[[")
            table = (
                tables["section"][section]
                if line.startswith("[[")
                else tables[line.strip("[]").split("]")[0]]
            )
        found = re.match(r"(\w+) = (-?[\d.]+)( *)(#.*)?$", line)
        if found and isinstance(table.get(found[1]), float):
            line = _line(found, table[found[1]])
        found = re.match(r"valves = \[\[.*\]\](.*)$", line)
        if found:
            places = ", ".join(f"[{n}, {at:.1f}]" for n, at in table["valves"])
            line = f"valves = [{places}]{found[1]}"
        lines.append(line)
    return "\n".join(lines) + "\n"


def _line(found, value: float) -> str:
    key, old, space, comment = found[1], found[2], found[3], found[4] or ""
    places = 3 if key == "flare" else 2 if "diameter" in key else 1
    new = f"{value:.{places}f}"
    if float(new) == float(old) or abs(value - float(old)) < 1e-6:
        return found[0]
    room = max(1, len(old) + len(space) - len(new)) if comment else 0
    return f"{key} = {new}{' ' * room}{comment}"


def tune(name: str) -> None:
    """Tune a built-in instrument, write its file and print what was found."""
    instruments.spec.cache_clear()
    path = instruments.FOLDER / f"{name}.toml"
    usual = instruments.spec(name).tables()
    tables = usual
    for _ in range(ROUNDS):
        instrument = Instrument(parse_bore(tables, name, None), AIR)
        notes = usual_notes(instrument)
        rest = rests(instrument, notes)
        tables = tuned(name, usual, tables, notes, rest)
    instrument = Instrument(parse_bore(tables, name, None), AIR)
    found = peaks(tables, resonances_for(notes, rest))
    rest = rests(instrument, notes)
    tables["resting_cents"] = float(round(np.mean([rest[n.way] for n in notes if is_open(n)])))
    print(name)
    for n in notes:
        sounds = cents(found[n.way], n.target) + rest[n.way]
        held = n.way.valves, n.way.slide_position, n.way.partial
        print(f"  {held}: {sounds:+.0f} cents, players {n.wanted:+.0f}, rests {rest[n.way]:+.0f}")
    for key in measures(usual):
        print(f"  {key}: {of(usual, key)[key[1]]:g} -> {of(tables, key)[key[1]]:g}")
    path.write_text(rewritten(path.read_text(), tables))
    sys.stdout.flush()


def follow() -> None:
    """Write the trumpet's figures into what copies them: its other bells, and whatever is played
    with its mouthpiece."""
    instruments.spec.cache_clear()
    trumpet = instruments.spec("trumpet").tables()["section"]
    backbore, bell = (
        trumpet[0]["backbore_end_diameter_mm"],
        sum(s["length_mm"] for s in trumpet[3:]),
    )
    for path in sorted(instruments.FOLDER.rglob("*.toml")):
        text = path.read_text()
        if "school trumpet" not in text.lower() or path.stem == "trumpet":
            continue
        tables = read_bore_file(path).tables()
        sections = tables["section"]
        if path.stem.startswith("trumpet_"):
            sections[:3] = copy.deepcopy(trumpet[:3])
            tables["valves"] |= instruments.spec("trumpet").tables()["valves"]
        if "backbore_end_diameter_mm" in sections[0]:
            narrow = sections[0]["backbore_end_diameter_mm"]
            sections[0]["backbore_end_diameter_mm"] = backbore
            if len(sections) > 1 and sections[1].get("start_diameter_mm") == narrow:
                sections[1]["start_diameter_mm"] = backbore
        for section in sections:
            if section["shape"] == "bessel" and "school trumpet's bell" in text:
                section["length_mm"] = bell
        path.write_text(rewritten(text, tables))


def is_open(note: Note) -> bool:
    return note.way.valves == "0" and note.way.slide_position == 1


def playing() -> list[str]:
    return [n for n in instruments.names() if instruments.spec(n).kind == "instrument"]


if __name__ == "__main__":
    for each in sys.argv[1:] or playing():
        tune(each)
    follow()
