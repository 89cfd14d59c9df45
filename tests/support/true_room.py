"""What is told of the room around a listener, worked out once more from the scene in a report."""

import numpy as np
from support.told import close

BOXES = {"practice room": ([4.2, 3.1, 2.6], 0.4), "hall": ([22, 14, 8], 1.7)}
OWN_EAR = 0.5  # m


def asked(report):
    """(name, size in m, s) as the scene has it."""
    given = report["inputs"]["sound"]["room"]
    if isinstance(given, dict):
        return "room", given["size_m"], given["reverberation_s"]
    return given, *BOXES[given]


def walls_over_direct(report) -> float:
    """dB of Sabine's field, 4/A with A = 0.161 V/T, over a source that sounds alike to all sides,
    1/(4 pi r^2) (textbook)."""
    _, size, time = asked(report)
    sound = report["inputs"]["sound"]
    r = OWN_EAR if sound["place"] == "player" else sound["distance_m"]
    return float(10 * np.log10(4 * time / (0.161 * np.prod(size)) * 4 * np.pi * r * r))


def around(report, m) -> bool:
    name, size, time = asked(report)
    sound = report["inputs"]["sound"]
    good = m["name"] == name and [float(v) for v in m["size"].split(" x ")] == list(size)
    good &= close(m["s"], time, 0.005)
    good &= bool(m["up"]) == bool(report["bore"].get("bell_up"))
    if m["walls"] is None:
        return good and report["level"]["lufs"] is None
    own = sound["place"] == "player"
    good &= m["where"] == ("the player's ear" if own else f"{sound['distance_m']:g} m")
    told = 0.0 if m["much"] == "as much as" else float(m["much"].split(" ")[0])
    told = -told if "less" in m["much"] else told
    # before the bell the direct sound has up to 12 dB more than on the mean of all sides, behind
    # and beside it up to 15 less; few tones in one place are 4 dB from the mean of many
    ahead = sound["angle_deg"] < 30 and not own and not report["bore"].get("bell_up")
    low, high = (-16, 4) if ahead else (-6, 19)
    return good and low < told - walls_over_direct(report) < high


def ears(report, m) -> bool:
    return report["inputs"]["sound"]["stereo"]


ROOM = {
    "Heard in a made-up {name:t} of {size:t} m, in which sound fades by 60 dB in {s:n} s"
    "<walls:: at {where:t} its walls send back {much:t} comes directly>.<up: The bell points up.>":
    around,
    "Two ears 17 cm apart, without a head between: for headphones.": ears,
}  # fmt: skip


def untold_room(report) -> list[str]:
    """A room or a second ear that nothing is said of."""
    said, sound = " ".join(report["sentences"]), report["inputs"]["sound"]
    told = ["the room"] * ((sound["room"] != "none") != ("Heard in a made-up" in said))
    return told + ["two ears"] * (sound["stereo"] != ("Two ears" in said))
