"""Tables of report.json: how steady the player was, and the room in which it is heard."""

from typing import TypedDict

Number = float | None


class NoteSteadiness(TypedDict):  # rms
    from_s: float
    to_s: float
    lip_cents: float
    breath_percent: float
    pitch_cents: float
    level_db: float
    cents_per_cent: Number  #: cents of pitch a cent of lips


class Steadiness(TypedDict):  # rms that the scene asks for
    player: str  #: machine, professional, student, or own
    lip_drift_cents: float
    breath_drift_percent: float
    seed: int
    take: int


class Room(TypedDict):
    """The room around horn and ears; by octaves `frequency_hz` and `reverberation_s`."""

    name: str  #: of a box of one's own "room"
    size_m: list[float]
    octaves: dict[str, list[float]]
    wall_takes: float  #: share of the energy at 500 and 1000 Hz
    bell_height_m: float
    bell_up: bool
    reflections: int  #: one by one; all later ones are the tail
    over_direct_db: Number  #: what the room adds over the direct sound, both over the whole take
