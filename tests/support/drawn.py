"""Bores and scenes drawn by hypothesis: anything that the files may say, up to their limits."""

import json
import math

from hypothesis import strategies as st

from lipmodel.bore.shapes import cup_volumes

RATES = (22_050, 32_000, 44_100, 48_000)  # higher ones fit their ladders for minutes
ENDS = ("unflanged", "flanged", "closed", "node")


def toml(value) -> str:
    """A value as TOML writes it, in one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {toml(v)}" for k, v in value.items()) + " }"
    return repr(value)


def lines(table: dict) -> str:
    """A table's keys, without its name."""
    return "".join(f"{k} = {toml(v)}\n" for k, v in table.items())


def size(low, high):
    """A length in equal steps of its logarithm, now and then either limit itself."""
    inside = st.floats(math.log(low), math.log(high)).map(lambda v: round(math.exp(v), 4))
    return st.one_of(inside, inside, inside, st.sampled_from([float(low), float(high)]))


@st.composite
def mouthpieces(draw):
    rim, depth = draw(size(4, 60)), draw(size(1, 100))
    throat = round(rim * draw(st.floats(0.1, 0.9)), 4)
    low, high = (1e6 * v for v in cup_volumes(rim / 2e3, throat / 2e3, depth / 1e3))
    volume = low + (high - low) * draw(st.floats(0.05, 0.95))
    if not (0.05 <= volume <= 200 and 0.5 <= throat <= 50):
        rim, depth, throat, volume = 16.3, 9.0, 3.66, 1.39
    return {
        "name": "mouthpiece", "shape": "mouthpiece", "rim_diameter_mm": rim, "cup_depth_mm": depth,
        "cup_volume_ml": volume, "throat_diameter_mm": throat,
        "throat_length_mm": draw(st.sampled_from([0.0, 3.5, 200.0])),
        "backbore_length_mm": draw(size(0.01, 500)),
        "backbore_end_diameter_mm": draw(size(0.5, 100)),
    }  # fmt: skip


@st.composite
def sections(draw, longest, shortest=0.01):
    shape = draw(st.sampled_from(["cylinder", "cone", "bessel", "exponential", "points"]))
    wide = st.one_of(size(4, 60), size(4, 60), size(0.5, 2000))
    length, start = draw(size(shortest, longest)), draw(wide)
    if shape == "cylinder":
        return {"shape": shape, "length_mm": length, "diameter_mm": start}
    if shape == "points":
        count = draw(st.integers(2, 12))
        x = sorted(draw(st.lists(st.floats(0, 1), min_size=count - 2, max_size=count - 2)))
        points = [[round(length * at, 4), draw(wide)] for at in (0, *x, 1)]
        steps = [p for i, p in enumerate(points) if i < 2 or p[0] > points[i - 2][0]]
        return {"shape": shape, "points_mm": steps}
    end = draw(wide)
    table = {"shape": shape, "length_mm": length, "start_diameter_mm": start}
    if shape == "bessel":
        end = min(max(start * 1.01, end), 2000.0)
        start = min(start, end / 1.005)
        table |= {"start_diameter_mm": start, "flare": draw(size(0.05, 5))}
    return table | {"end_diameter_mm": end}


@st.composite
def bores(draw):
    """The text of a bore file."""
    longest = draw(st.sampled_from([100, 300, 600, 1000, 2000]))
    parts = [draw(mouthpieces())] if draw(st.booleans()) else []
    parts += [draw(sections(longest, 90)), *draw(st.lists(sections(longest), max_size=4))]
    if draw(st.booleans()):
        marks = {"slide": True, "tuning_slide": True, "valves": [[1, 100.0], [2, 200.0]]}
        tube = {"shape": "cylinder", "length_mm": 400.0, "diameter_mm": draw(size(5, 30))}
        parts.append(tube | marks)
        parts += draw(st.lists(sections(longest), max_size=1))
    top = {"end": draw(st.sampled_from(ENDS)), "player": draw(st.sampled_from(["small", "large"]))}
    written = lines(top)
    if any("valves" in p for p in parts):
        written += "[valves]\n" + lines({"first_mm": draw(size(1, 500)), "second_mm": 60.0})
    return written + "".join(f"[[section]]\n{lines(p)}" for p in parts)


def between(low, high):
    """A number to six places, now and then either limit itself."""
    inside = st.floats(low, high).map(lambda v: round(v, 6))
    return st.one_of(inside, inside, inside, st.sampled_from([float(low), float(high)]))


def against_time(low, high, length):
    """A number, or breakpoints within `length` s."""
    value = between(low, high)
    points = st.lists(st.tuples(between(0, length), value), min_size=2, max_size=4,
                      unique_by=lambda p: p[0])  # fmt: skip
    return st.one_of(value, points.map(lambda p: [list(x) for x in sorted(p)]))


@st.composite
def players(draw, length, marked):
    if draw(st.integers(0, 9)):
        return {
            "pressure_kpa": draw(against_time(0, 40, length)),
            "tension_hz": draw(against_time(20, 2000, length)),
            "flutter_percent": draw(st.sampled_from([0.0, 0.0, 3.0, 10.0])),
        }
    note = {
        "note": draw(st.sampled_from(["C4", "G4", "Bb2", "C8", "F#-1"])),
        "length_s": draw(st.floats(0.02, length)),
        "pressure_kpa": draw(against_time(0, 40, length)),
        "bend_cents": draw(against_time(-1200, 1200, length)),
        "attack": draw(st.sampled_from(["plain", "tongued", "breath"])),
        "release_ms": draw(size(5, 500)),
    }
    if draw(st.booleans()):
        note["vibrato"] = {"by": "lips", "rate_hz": draw(st.floats(3, 9)), "depth_cents": 50.0}
    if marked and draw(st.booleans()):
        note["slide_position"] = draw(against_time(1, 7, length))
    return {"phrase": [note]}


@st.composite
def sources(draw, length):
    kind = draw(st.sampled_from(["pop", "breath", "tone", "flame"]))
    keys = {"pop": {"strength_kpa": size(0.001, 20), "start_s": st.floats(0, length)},
            "breath": {"flow_l_s": size(0.0001, 2)}, "tone": {"flow_l_s": size(0.0001, 2)},
            "flame": {"heat_w": st.floats(0, 2000), "lag_ms": size(0.05, 50),
                      "draught_m_s": size(0.02, 20)}}[kind]  # fmt: skip
    table = {"kind": kind, "at_mm": draw(st.sampled_from([0.0, 5.0, 123.4, 400.0]))}
    return table | {k: draw(v) for k, v in keys.items()}


@st.composite
def scenes(draw):
    """(text of a scene, text of the bore file bore.toml that it names, or "")."""
    built_in = draw(st.integers(0, 4)) == 0
    bore = "" if built_in else draw(bores())
    name = draw(st.sampled_from(["trumpet", "trombone", "horn", "tuba", "hailing_cone", "pipe"]))
    marked = "slide = true" in bore
    length = draw(st.floats(0.05, 0.3))
    instrument = {"name": name} if built_in else {"bore": "bore.toml"}
    source = draw(st.integers(0, 4)) == 0
    player = draw(sources(length) if source else players(length, marked))
    if marked:
        instrument |= {"tuning_slide_pull_mm": draw(st.sampled_from([0.0, 20.0, 200.0]))}
        if "phrase" not in player:
            instrument["valves"] = draw(st.sampled_from(["0", "1", "2", "12"]))
            moves = not source and draw(st.integers(0, 3)) == 0
            position = against_time(1, 7, length) if moves else st.floats(1, 7)
            instrument["slide_position"] = draw(position)
    if draw(st.integers(0, 3)) == 0:
        thing = draw(st.sampled_from(["mute", "hand"]))
        keys = {"cork_mm": draw(size(0.2, 50))} if thing == "mute" else {
            "open_percent": draw(size(2, 100)), "depth_mm": draw(size(1, 500))}  # fmt: skip
        instrument[thing] = keys
    air = {
        "temperature_c": draw(st.floats(0, 40)), "humidity_percent": draw(st.floats(0, 100)),
        "co2_percent": draw(st.floats(0, 5)), "breath": draw(st.booleans()),
    }  # fmt: skip
    sound = {
        "length_s": length, "rate_hz": draw(st.sampled_from(RATES)),
        "distance_m": draw(size(0.05, 100)), "angle_deg": draw(st.floats(0, 180)),
        "steepening": draw(st.booleans()), "floor": draw(st.booleans()),
        "place": draw(st.sampled_from(["listener", "player"])),
    }  # fmt: skip
    lips = {"motion": draw(st.sampled_from(["both", "both", "swing", "lift"]))}
    if draw(st.booleans()):
        lips |= {"width_mm": draw(size(1, 30)), "quality": draw(size(0.3, 20)),
                 "stiffness_per_hz": draw(size(0.05, 20)), "thickness_mm": draw(size(0.2, 10)),
                 "rest_mm": [draw(st.floats(-5, 5)), draw(st.floats(-5, 5))]}  # fmt: skip
    tables = {"instrument": instrument, "source" if source else "player": player, "air": air,
              "sound": sound, "lips": lips}  # fmt: skip
    return "".join(f"[{k}]\n{lines(v)}" for k, v in tables.items()), bore
