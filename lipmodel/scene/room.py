"""[sound] room: where the ears are, a name or a box of one's own."""

from math import log, prod

from lipmodel.files import schema
from lipmodel.files.schema import Problem, Table, choice, number

NONE = "none"
NAMES = (NONE, "practice room", "hall")
EAR_M = 1.2  # of who sits; common practice, no published source
BELL_M, BELL_UP_M = 1.2, 1.5  # the rim of a bell that points up stands higher: ours
PLAYER_M = 0.5  # from the bell to the player's ear
MIDDLE = (0.47, 0.42)  # of the plan, between bell and ears: off the axes of symmetry, ours
WALL_M = 0.3  # bell and ears stay so far from a wall
MOST_TAKEN = 0.35  # of the energy at each wall: with more, no sound fades evenly
SABINE = 0.163  # s/m, 24 ln(10)/c at 339 m/s: for what a file may say


def _size(value):
    if not isinstance(value, list) or len(value) != 3:
        raise ValueError
    for v, (low, high) in zip(value, SIZES, strict=True):
        if not (schema.is_number(v) and low <= v <= high):
            raise ValueError
    return tuple(float(v) for v in value)


SIZES = (2.0, 100.0), (2.0, 100.0), (2.0, 40.0)
SIZE_WORDS = "[length, width, height], three numbers from 2 to 100, 100 and 40 m"
Size = schema.parsed(tuple[float, float, float], _size, SIZE_WORDS)


class Room(Table):
    """A box with walls alike.  The bell sounds along its length."""

    size_m: Size
    reverberation_s: number(0.1, 10, "s")

    @classmethod
    def finish(cls, value):
        least = shortest(value.size_m)
        if value.reverberation_s < least:
            told = f"expected {least:.2g} s or more in a room of this size"
            schema.raise_problems(Problem(("reverberation_s",), value.reverberation_s, told))
        return value


def shortest(size) -> float:
    """Reverberation time in s with MOST_TAKEN at each wall, after Eyring, rounded up."""
    a, b, c = size
    surface = 2 * (a * b + b * c + c * a)
    exact = SABINE * prod(size) / (-surface * log(1 - MOST_TAKEN))
    return -(-exact // 0.01) * 0.01


ROOMS = {  # ours, in the range that is common practice for such rooms
    "practice room": Room(size_m=[4.2, 3.1, 2.6], reverberation_s=0.4),
    "hall": Room(size_m=[22.0, 14.0, 8.0], reverberation_s=1.7),
}


def _room(value):
    if isinstance(value, Room | dict):
        return Room.model_validate(value)
    if value not in NAMES or not isinstance(value, str):
        meant = schema.did_you_mean(value, NAMES)
        raise ValueError(f"expected {WORDS}{meant}")
    return value


WORDS = f"{schema.one_of(NAMES)}, or a table with size_m and reverberation_s"
AnyRoom = schema.parsed(choice(*NAMES) | Room, _room, WORDS)


def room_of(given) -> Room | None:
    """The box that `room` of [sound] means; None for none."""
    return given if isinstance(given, Room) else ROOMS.get(given)


def written_room(data: dict) -> Room | None:
    """The same from a table as written, None where it is wrong as well: that is told elsewhere."""
    given = data.get("room", NONE)
    if isinstance(given, str | Room):
        return room_of(given)
    try:
        return Room.model_validate(given)
    except ValueError:
        return None


def misplaced(data: dict, distance: float, bell_up: bool) -> list[Problem]:
    """What cannot be in [sound] as written, with the default `distance` in m: two floors, a bell
    in the ceiling, ears beyond a wall, a bell that points up and sideways."""
    room, found = written_room(data), []
    if room is None and data.get("floor") is not True:
        return []
    bell = data.get("bell_height_m", BELL_UP_M if room and bell_up else BELL_M)
    own = data.get("place") == "player"
    key = "bell_height_m" if own else "distance_m"
    distance = PLAYER_M if own else data.get("distance_m", distance)
    if not schema.is_number(bell) or not schema.is_number(distance):
        return []
    apart = abs(bell - EAR_M)
    if distance < apart and own:
        told = f"expected from {EAR_M - PLAYER_M:g} to {EAR_M + PLAYER_M:g} m: the player's ear is "
        told += f"{PLAYER_M:g} m away"
        found.append(Problem((key,), bell, told))
    elif distance < apart:
        told = f"expected {apart:.10g} m or more: the bell is at {bell:g} m, the ears at {EAR_M:g}"
        found.append(Problem((key,), distance, told))
    if room is None:
        return found
    if data.get("floor") is True:
        found.append(Problem(("floor",), True, "expected false: a room has its own floor"))
    return found + _outside(room, bell, distance, own) + _sideways(data, bell_up)


def _outside(room: Room, bell: float, distance: float, own: bool) -> list[Problem]:
    length, _, height = room.size_m
    found = []
    if bell > height - WALL_M:
        told = f"expected {height - WALL_M:g} m or less: the room is {height:g} m high"
        found.append(Problem(("bell_height_m",), bell, told))
    far = 2 * (MIDDLE[0] * length - WALL_M)
    most = int(10 * (far**2 + (bell - EAR_M) ** 2) ** 0.5) / 10
    if distance > most and not own:
        told = f"expected {most:g} m or less: the room is {length:g} m long"
        found.append(Problem(("distance_m",), distance, told))
    return found


def _sideways(data: dict, bell_up: bool) -> list[Problem]:
    angle = data.get("angle_deg", 0.0)
    if not bell_up or not schema.is_number(angle) or not angle:
        return []
    told = "expected 0: in a room this bell points up, and sounds alike to all sides"
    return [Problem(("angle_deg",), angle, told)]
