"""What is told of the mouth, worked out once more from the scene in a report."""

import numpy as np
from support.told import close, leaps
from support.true_steadiness import drifts


def given(report, key):
    return report["inputs"]["mouth"][key]


def course(value, times):
    """A number or breakpoints at moments in s."""
    points = value if isinstance(value, list) else [[0.0, value]]
    return np.interp(times, *zip(*points, strict=True))


def places(report):
    """Where the mouth resonates all along the take, Hz; of a vowel its quarter waves in two tubes
    are for `tests/test_mouth.py`."""
    times = np.linspace(0, report["inputs"]["sound"]["length_s"], 5001)
    if given(report, "vowel"):
        return times, np.full(len(times), {"ah": 234.0, "ee": 857.0}[given(report, "vowel")])
    return times, course(given(report, "resonance_hz"), times)


def parts(report, hz):
    """Z0 in Pa s/m3 and Q with the mouth at hz Hz."""
    asked_q, glottis = given(report, "quality"), given(report, "glottis_pa_s_m3")
    volume, asked = given(report, "volume_ml"), given(report, "peak_pa_s_m3") or 15e6
    if given(report, "vowel"):
        volume = {"ah": 56.6, "ee": 16.05}[given(report, "vowel")]
    if volume:
        air = report["air"]
        stiff = air["density_kg_m3"] * air["sound_speed_m_s"] ** 2
        z0 = stiff / (2 * np.pi * hz * volume * 1e-6)
    else:
        z0 = np.sqrt(asked * glottis) if glottis else asked / (asked_q or 6.0)
    return z0, z0 / glottis if glottis else asked_q or 6.0


def quality(report, hz):
    return parts(report, hz)[1]


def peak(report, hz) -> float:
    """|Z| of R + jwM beside 1/jwC at the resonance is Z0 sqrt(Q^2 + 1), MPa s/m3."""
    z0, q = parts(report, hz)
    return z0 * np.sqrt(q * q + 1) / 1e6


def size(report, m, hz) -> bool:
    # told to 1 MPa s/m3
    good = close(m["peak"], max(peak(report, hz.min()), peak(report, hz.max())), 0.6)
    highest = max(r["magnitude_pa_s_m3"] for r in report["resonances"]) / 1e6
    return good and close(m["tube"], highest, 0.5)


def still(report, m) -> bool:
    _, hz = places(report)
    return np.ptp(hz) == 0 and close(m["hz"], hz[0], 0.6) and size(report, m, hz)


def led(report, m) -> bool:
    _, hz = places(report)
    good = np.ptp(hz) > 0 and close(m["low"], hz.min(), 0.5) and close(m["high"], hz.max(), 0.5)
    return good and bool(m["most"]) == bool(given(report, "volume_ml")) and size(report, m, hz)


def tongue_alone(report, m) -> bool:
    times, hz = places(report)
    player, found = report["inputs"]["player"], leaps(report)
    good = not drifts(report) and bool(found) and len(m["hz"].split(" and ")) == min(len(found), 3)
    for (when, *_), told in zip(found, m["hz"].split(" and "), strict=False):
        around = np.linspace(when - 0.05, when + 0.05, 11)
        for key in ("tension_hz", "pressure_kpa"):
            good &= np.ptp(course(player[key], around)) == 0
        before = (times > when - 0.9) & (times < when)
        near = hz[(times > when - 0.12) & (times < when + 0.12)]
        good &= np.ptp(hz[before]) > 0
        good &= near.min() - 1 <= float(told) <= near.max() + 1
    return bool(good)


def seen_from_the_lips(report, hz, f):
    """|Z| in Z0 at f Hz of R + jwM beside 1/jwC, by its parts."""
    q = float(quality(report, hz))
    through = 1 / q + 1j * f / hz
    return np.abs(through / (1 + 1j * f / hz * through))


def damped(report, m) -> bool:
    """No frequency at which the mouth answers more than it does to a steady flow."""
    _, hz = places(report)
    good = close(m["q"], float(quality(report, hz[0])), 0.006)
    good &= bool(m["first"]) == bool(np.ptp(hz) > 0)
    for place in (hz.min(), hz.max()):
        f = place * np.linspace(0, 3, 3001)
        good &= int(np.argmax(seen_from_the_lips(report, place, f))) == 0
    return bool(good)


def throat(report, m) -> bool:
    books = report["energy"]
    share = 100 * books["glottis_j"] / books["lungs_j"]
    if m["share"] == "less than 0.1 %":
        return share < 0.06
    return bool(given(report, "glottis_pa_s_m3")) and close(m["share"].split(" ")[0], share, 0.06)


MOUTH = {
    "The mouth resonates at {hz:i} Hz: its peak is {peak:i} MPa s/m3, the tube's highest {tube:i}.":
    still,
    "The tongue moves, and the mouth's resonance with it, between {low:i} and {high:i} Hz: its "
    "peak is <most:at most >{peak:i} MPa s/m3, the tube's highest {tube:i}.": led,
    "The mouth is damped too much to resonate: its quality is {q:n}<first: at first>.": damped,
    "The player's throat took {share:t} of what the lungs gave.": throat,
    "Lips and breath stood still while the register changed: the tongue alone did it, with the "
    "mouth at {hz:t} Hz<more: and later>.": tongue_alone,
}  # fmt: skip
