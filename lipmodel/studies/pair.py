"""Two takes of one pitch side by side: what the air column does for each."""

import numpy as np

from lipmodel.acoustics.impedance import impedance
from lipmodel.analysis.spectrum import centroid, harmonics
from lipmodel.player.gesture import steady_part
from lipmodel.player.performance import Performance
from lipmodel.player.tubing import first_position, held_bore
from lipmodel.sound import loudness
from lipmodel.units import cents

ONE_PITCH = 20.0  # cents: closer than this two takes are told as a pair
HARMONICS = 8
SHOWN = 2.5  # periods
CURVE_TOP = 8.6  # harmonics


def portrait(performance: Performance, row: dict, number: int = 0) -> dict | None:
    """What there is to compare of a take's note `number`, or None without a steady one.

    Harmonics of the mouthpiece pressure and of the sound (Pa), the impedance there and around
    (Pa s/m3), a few periods of pressure (Pa) and lip opening (m2), blown power (W).
    """
    if row["frequency_hz"] is None or not performance.gesture.notes:
        return None
    built, rate = performance.built, performance.built.rate
    note = performance.gesture.notes[number]
    part = steady_part(note, rate)
    frequency, played = row["frequency_hz"], performance.played
    place = row["slide_position"]
    plain = note.valves == "0" and place == first_position(built)
    bore = built.bore if plain else held_bore(built, note.valves, place, note.pulls)
    n = np.arange(1, HARMONICS + 1)
    curve = np.arange(40.0, CURVE_TOP * frequency, 2.0)
    size = np.abs(impedance(bore, built.air, curve))
    inside = harmonics(played.mouthpiece_pressure[part], rate, frequency, HARMONICS)
    outside = harmonics(performance.radiated_pressure[part], rate, frequency, HARMONICS)
    at = np.abs(impedance(bore, built.air, n * frequency))
    few = slice(part.stop - int(SHOWN * rate / frequency), part.stop)
    blown = np.mean(performance.in_mouth[part] * played.flow[part])
    heard = performance.radiated_pressure[part]
    return {
        "written": row["written"], "state": row["state"], "valves": row["valves"],
        "frequency_hz": frequency, "lock": row["lock"],
        "inside_pa": inside, "outside_pa": outside,
        "impedance": at, "curve_hz": curve, "curve": size,
        "time_s": np.arange(few.stop - few.start) / rate,
        "pressure_pa": played.mouthpiece_pressure[few], "opening_m2": played.lip_opening[few],
        "centroid_hz": centroid(outside, frequency),
        "level_db": float(loudness.decibels(np.std(heard) / loudness.REFERENCE_PRESSURE)),
        "mouthpiece_rms_pa": row["mouthpiece_rms_pa"],
        "blown_w": float(blown),
        "alignment": alignment(at, curve, size, frequency),
    }  # fmt: skip


def alignment(at, curve, size, frequency) -> float:
    """How well harmonics meet resonances, 0 to 1: the mean, over the first six, of |Z| at the
    harmonic over the highest |Z| within half a harmonic of it (a figure of ours)."""
    shares = []
    for n in range(1, 7):
        near = np.abs(curve - n * frequency) <= frequency / 2
        shares.append(min(1.0, at[n - 1] / size[near].max()))
    return float(np.mean(shares))


def numbers(first: dict, other: dict) -> dict:
    """The pair in figures, for report.json: each of both, the second named `other`."""
    keys = ("written", "state", "lock", "level_db", "centroid_hz", "alignment", "blown_w")
    return {
        "first": {k: first[k] for k in keys},
        "other": {k: other[k] for k in keys},
        "level_difference_db": other["level_db"] - first["level_db"],
    }


def one_pitch(first: dict | None, other: dict | None) -> bool:
    """Whether two portraits are of one pitch, held in one way and not in the other."""
    return (
        bool(first and other)
        and first["state"] != other["state"]
        and abs(cents(first["frequency_hz"], other["frequency_hz"])) < ONE_PITCH
    )


def caption(first: dict, other: dict) -> str:
    """Why the two differ, in one sentence, or what is alike."""
    met, missed = sorted((first, other), key=lambda p: -p["alignment"])
    if met["alignment"] - missed["alignment"] < 0.05:
        return "The harmonics of both meet the resonances about as well."
    return (
        f"The harmonics of the {met['state']} note meet resonances of the tube "
        f"({100 * met['alignment']:.0f} % of what they could), those of the {missed['state']} "
        f"one miss more of them ({100 * missed['alignment']:.0f} %)."
    )
