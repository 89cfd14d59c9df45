"""Bore and line delays with valves pressed and slides pulled."""

import numpy as np

from lipmodel.bore import assembly
from lipmodel.bore.geometry import Bore
from lipmodel.bore.valves import slide_length, valve_length, valve_set
from lipmodel.player.build import Built, naming, slide_moves
from lipmodel.units import MM
from lipmodel.waveguide.ladder import Ladder


def first_position(built: Built) -> float:
    """The slide position for which the built bore was made."""
    if slide_moves(built.scene):
        return 1.0
    return float(built.scene.instrument.slide_position)


def lines_for(
    built: Built, valves: str, first_pull_mm=0.0, third_pull_mm=0.0, slide_position=1.0
) -> np.ndarray:
    """Delay in samples of every line of the ladder with `valves` pressed, shape (m,).

    The tube that valves and slide add is cylindrical and lies in the lines that hold their marks.
    """
    ladder = built.horn.ladder
    delays = ladder.delay[ladder.line_cell].copy()
    added = valve_tube(built, valves, first_pull_mm, third_pull_mm)
    if added:
        line, speed = line_at(built, "valve")
        delays[line] += added / speed * ladder.rate
    if slide_position != 1:
        line, speed = line_at(built, "slide")
        tube = slide_tube(built, slide_position, added)
        delays[line] += tube / speed * ladder.rate
    return delays


def valve_tube(built: Built, valves: str, first_pull_mm=0.0, third_pull_mm=0.0) -> float:
    """Tube in metres that pressed valves add, their slides pulled."""
    pressed = valve_set(built.spec, valves)
    added = valve_length(built.spec, pressed)
    return added + 2 * MM * (first_pull_mm * (1 in pressed) + third_pull_mm * (3 in pressed))


def slide_tube(built: Built, position: float, valve_tube_m=0.0) -> float:
    """Tube in metres that the slide adds at a position to a ladder made at position 1, with
    `valve_tube_m` of tube behind valves.  SceneError where the slide is too short."""
    if position == 1:
        return 0.0
    with naming(built.scene):
        return slide_length(built.spec, position, built.bore.length + valve_tube_m)


def line_at(built: Built, mark: str) -> tuple[int, float]:
    """The line that holds the first mark of that name, and the speed of sound there in m/s."""
    return line_of(built.horn.ladder, built.bore, built.air, mark)


def line_of(ladder: Ladder, bore: Bore, air, mark: str) -> tuple[int, float]:
    """`line_at` of a ladder, the bore it was made from, and the air in it."""
    place = next(x for name, x in bore.marks if name.startswith(mark))
    inside = np.flatnonzero((ladder.line_x[:, 0] <= place) & (place <= ladder.line_x[:, 1]))
    line = int(inside[0]) if len(inside) else int(np.argmax(np.diff(ladder.line_x, axis=1)))
    return line, air.at_share(place / bore.length).sound_speed


def held_bore(built: Built, valves: str, slide_position: float, pulls=None) -> Bore:
    """The bore with valves down and slides held, as a note has them; `pulls`: mm of the first and
    third valve's slide, the scene's where there are none."""
    given = built.scene.instrument
    first, third = pulls or (given.first_slide_pull_mm, given.third_slide_pull_mm)
    with naming(built.scene):
        return assembly.to_bore(
            built.spec,
            valves=valve_set(built.spec, valves),
            tuning_slide_pull_mm=given.tuning_slide_pull_mm,
            first_slide_pull_mm=first,
            third_slide_pull_mm=third,
            slide_position=slide_position,
        )
