"""The player's mouth in a report: where it resonated, how strongly, and what was said of it."""

from dataclasses import replace
from itertools import pairwise
from math import pi, sqrt

from lipmodel.output.report_types import Mouth, Report
from lipmodel.output.source_sentences import percent
from lipmodel.output.steadiness import drifts
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.build import Built, tongue

NEAR = 0.1  # s to either side of a jump
LATELY = 1.0  # s in which the tongue that did it has moved
MOST_TOLD = 3  # jumps
# With x = (w/w0)^2, |Z|^2 = Z0^2 (1/Q^2 + x)/((1 - x)^2 + x/Q^2) has a peak beside w = 0 where
# 1/Q^2 < 1 + sqrt 2; below, the impedance of the mouth only falls
LEAST_QUALITY = sqrt(sqrt(2) - 1)
BY_PLAYER = ("tension_hz", "pressure_kpa")


def mouth_row(built: Built, jumps) -> Mouth | None:
    """Lowest and highest resonance (Hz) of the take and where it was at each jump; the
    highest peak (Pa s/m3), the quality with the tongue where it was first, and whether that
    makes a peak anywhere.  None without.
    """
    mouth, scene = built.horn.mouth, built.scene
    if mouth is None:
        return None
    led = tongue(scene) or Breakpoints.of(mouth.resonance)
    inside = [t for t in led.times if 0 < t < scene.sound.length_s]
    places = [float(led.at(t)) for t in (0.0, *inside, scene.sound.length_s)]
    ratio, resistance = mouth.parts()
    quality = max(z / r for z, r in map(mouth.parts, places))
    return {
        "from_hz": round(min(places), 2),
        "to_hz": round(max(places), 2),
        "peak_pa_s_m3": max(
            abs(replace(mouth, resonance=f).impedance(2j * pi * f)) for f in places
        ),
        "quality": float(ratio / resistance),
        "resonates": bool(quality > LEAST_QUALITY),
        "moves": any(a != b for a, b in pairwise(places)),
        "at_jumps_hz": [round(float(led.at(j["time_s"])), 2) for j in jumps],
    }


def mouth_sentences(report: Report) -> list[str]:
    """Where the mouth resonates, how its peak compares with the tube's, whether the tongue
    alone changed the register, and what the player's throat took."""
    row = report.get("mouth")
    if not row:
        return []
    return _resonance(report, row) + _player_throat(report)


def _player_throat(report) -> list[str]:
    """What glottis and channel took, where the scene says how narrow they are."""
    given, books = report["inputs"]["mouth"]["glottis_pa_s_m3"], report["energy"]
    if given is None or not books or books["lungs_j"] <= 0:
        return []
    share = percent(books["glottis_j"] / books["lungs_j"])
    return [f"The player's throat took {share} of what the lungs gave."]


def _resonance(report, row) -> list[str]:
    if not row["resonates"]:
        return [
            "The mouth is damped too much to resonate: its quality is "
            f"{row['quality']:.2f}{' at first' * row['moves']}."
        ]
    least = report["inputs"]["mouth"]["volume_ml"] is not None and row["moves"]
    peak = f"its peak is {'at most ' if least else ''}{row['peak_pa_s_m3'] / 1e6:.0f} MPa s/m3"
    highest = max((r["magnitude_pa_s_m3"] for r in report["resonances"]), default=None)
    if highest:
        peak += f", the tube's highest {highest / 1e6:.0f}"
    if not row["moves"]:
        return [f"The mouth resonates at {row['from_hz']:.0f} Hz: {peak}."]
    told = [
        f"The tongue moves, and the mouth's resonance with it, between {row['from_hz']:.0f} and "
        f"{row['to_hz']:.0f} Hz: {peak}."
    ]
    jumps = [] if drifts(report) else report["jumps"]
    alone = [_tongue_alone(report["inputs"], jump["time_s"]) for jump in jumps]
    if jumps and all(alone):
        where = " and ".join(f"{f:.0f}" for f in row["at_jumps_hz"][:MOST_TOLD])
        more = " and later" if len(jumps) > MOST_TOLD else ""
        told.append(
            "Lips and breath stood still while the register changed: the tongue alone did it, "
            f"with the mouth at {where} Hz{more}."
        )
    return told


def _tongue_alone(inputs, time) -> bool:
    """Whether lips and breath stood still about a moment, before which the tongue had moved."""

    def moved(given, moments):
        return len({round(float(Breakpoints.of(given).at(t)), 9) for t in moments}) > 1

    player, around = inputs["player"], (time - NEAR, time, time + NEAR)
    lately = [time - LATELY * share / 10 for share in range(11)]
    led = any(player[key] is None or moved(player[key], around) for key in BY_PLAYER)
    return not led and moved(inputs["mouth"]["resonance_hz"], lately)
