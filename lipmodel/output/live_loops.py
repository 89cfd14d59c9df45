"""Tubes and lips of the live page as the plain numbers that its time loop reads."""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.lips import FIRM_EXPONENT, FIRM_SHARPNESS, KNEE_EXPONENT, MOTIONS
from lipmodel.player.build import Built, build, first_slide_position, held_valves
from lipmodel.player.joins import VALVE_TRAVEL
from lipmodel.player.slide import TRAVEL
from lipmodel.player.tubing import lines_for
from lipmodel.scene.scene import Scene
from lipmodel.waveguide.arrays import at_junctions, end_coefficients, line_taps
from lipmodel.waveguide.state import SMALLEST_BUFFER
from lipmodel.waveguide.time_loop import throat_and_station

TAPS = 512  # of the radiation filter: what it leaves out is under -70 dB (tests)


@dataclass(frozen=True)
class Tube:
    """The scene's own tube with valves up and slide in, at every rate, whose lines valves and
    slide make longer: `delays` in samples of every scene that does so, by its instrument."""

    scene: Scene
    builds: list[Built]
    delays: list[dict]

    @classmethod
    def of(cls, scene: Scene, bare: Scene, others, rates):
        """`bare`: the scene with valves up and slide in; `others`: those that lengthen it."""
        builds = [build(bare, held=True, rate=rate) for rate in rates]
        delays = [{held(s): lines_for(b, *held(s)) for s in (scene, *others)} for b in builds]
        return cls(scene, builds, delays)

    def loops(self, scene: Scene, group: str) -> list[dict]:
        """The loops of the scene itself, or of a choice of valves or slide what differs."""
        return [
            self._loop(scene, group, *one) for one in zip(self.builds, self.delays, strict=True)
        ]

    def _loop(self, scene, group, built, delays) -> dict:
        tap = line_taps(built.horn.ladder, delays[held(scene)]).ravel().tolist()
        if group != "tube":
            travel = TRAVEL if group == "slide" else VALVE_TRAVEL
            return {"of": 0, "tap": tap, "travel_s": travel, "rate": built.rate}
        own = {"tap": tap, "travel_s": None}
        longest = max(float(np.max(d, initial=2.0)) for d in delays.values())
        return loop_of(built) | own | {"buffer_size": _buffer_size(longest)}


def held(scene: Scene) -> tuple:
    """Valves, pulls of their slides in mm and slide position, as `lines_for` takes them."""
    given = scene.instrument
    pulls = given.first_slide_pull_mm, given.third_slide_pull_mm
    return held_valves(scene), *pulls, first_slide_position(scene)


def _buffer_size(longest: float) -> int:
    return max(SMALLEST_BUFFER, 1 << int(np.ceil(np.log2(longest + 4))))


def loop_of(built: Built) -> dict:
    """The arrays that the time loop takes, as lists of numbers."""
    horn, ladder = built.horn, built.horn.ladder
    scattering, weight, coefficient, _ = at_junctions(ladder)
    end_b, end_a = end_coefficients(ladder)
    longest = max(float(ladder.delay[ladder.line_cell].max(initial=2.0)), 2.0)
    throat, law, _, _ = throat_and_station(horn)
    response = built.radiation_filter[:TAPS]
    taps = line_taps(ladder, ladder.delay[ladder.line_cell]).ravel()
    lists = {
        "admittance": ladder.admittance, "scattering": scattering, "weight": weight,
        "coefficient": coefficient, "end_b": end_b, "end_a": end_a,
        "line_cell": ladder.line_cell, "tap": taps,
        "poles": ladder.pole_coefficients, "throat_law": law,
    }  # fmt: skip
    return {k: np.asarray(v).tolist() for k, v in lists.items()} | {
        "rate": built.rate,
        "density": horn.density,
        "turn": int(ladder.turn),
        "throat": int(throat),
        "buffer_size": _buffer_size(longest),
        # what is heard needs no more digits: a thousandth of the least that a sound file holds
        "response": [float(f"{v:.7g}") for v in response],
    }


def lips_of(built: Built) -> dict:
    """The player's lips for each way in which they may move."""
    return {m: player_of(replace(built.horn.lips, motion=m)) for m in MOTIONS}


def player_of(lips) -> dict:
    """Constants and laws of a player's lips, as the page's loop reads them."""
    swing = lips.motion == "swing"
    kept = ("reference", "highest", "quality_exponent",
            "threshold_per_hz", "knee", "middle")  # fmt: skip
    law = {name: getattr(lips, name) for name in kept}
    law |= {"swing": swing, "quality": lips.swing_quality if swing else lips.quality}
    law |= {"knee_exponent": KNEE_EXPONENT, "firm_exponent": FIRM_EXPONENT,
            "firm_sharpness": FIRM_SHARPNESS}  # fmt: skip
    constants = lips.constants().tolist()
    motion = MOTIONS.index(lips.motion)
    return {"motion": motion, "constants": constants, "law": law, "firm": lips.firm}
