"""[air] [notes] [lips] [sound] [map] [show]."""

from pydantic import Field

from lipmodel.files import schema
from lipmodel.files.schema import Table, choice, number, whole, yes_no
from lipmodel.scene.room import NONE, AnyRoom

LONGEST_S = 3600.0  # s
RATE_HZ = 48_000


class Air(Table):
    """The air in the room and in the tube."""

    temperature_c: number(0, 40, "degrees C") = 22.0
    humidity_percent: number(0, 100, "%") = 50.0
    co2_percent: number(0, 5, "%") = 0.04
    breath: yes_no() = Field(False, description="warm breath at the lips, room air at the end")


class Notes(Table):
    """How note names are read and written."""

    read_as: choice("written", "sounding") = "written"
    a4_hz: number(380, 480, "Hz") = 440.0
    spelling: choice("flats", "sharps") = "flats"


def _pair(low: float, high: float, unit: str, names: str, rising: bool):
    words = f"{names}, two numbers from {low:g} to {high:g} {unit}" + ", rising" * rising

    def check(value):
        if not isinstance(value, list) or len(value) != 2:
            raise ValueError
        if not all(schema.is_number(v) and low <= v <= high for v in value):
            raise ValueError
        if rising and not value[0] < value[1]:
            raise ValueError
        return float(value[0]), float(value[1])

    return schema.parsed(tuple[float, float], check, words)


class Lips(Table):
    """The lips; what is not given is the calibrated player's."""

    motion: choice("both", "swing", "lift") = "both"
    width_mm: number(1, 30, "mm") | None = None
    thickness_mm: number(0.2, 10, "mm") | None = None
    rest_mm: _pair(-5, 5, "mm", "[x, y]", rising=False) | None = None
    quality: number(0.3, 20) | None = None
    stiffness_per_hz: number(0.05, 20, "N/(m Hz)") | None = None
    firmness: yes_no() | None = Field(
        None, description="they grow firmer with the breath; default: true where notes are played"
    )


class Sound(Table):
    """How it is heard and stored."""

    rate_hz: whole(22_050, 192_000, "Hz") = RATE_HZ
    length_s: number(0.05, LONGEST_S, "s") | None = Field(
        None, description="default: until half a second after the last note, else 4 s"
    )
    distance_m: number(0.05, 100, "m") = 1.0
    angle_deg: number(0, 180, "degrees") = 0.0
    place: choice("listener", "player") = Field("listener", description="whose ears hear it")
    floor: yes_no() = Field(False, description="a hard floor below, which reflects")
    room: AnyRoom = Field(NONE, description="walls around, of takes: a name, or a box of one's own")
    bell_height_m: number(0.1, 10, "m") | None = Field(
        None, description="over the floor; default: 1.2, of a bell that points up in a room 1.5"
    )
    stereo: yes_no() = Field(False, description="two ears 17 cm apart, for headphones")
    steepening: yes_no() = Field(True, description="loud waves grow steep in the tube")
    level: choice("matched", "calibrated") = "matched"
    loudness_lufs: number(-60, -5, "LUFS") = -16.0
    also: schema.listed(choice("mp3", "flac", "ogg"), 3, "kinds") = ()
    seed: whole(0, 2**31 - 1) = 1


class Map(Table):
    """The grid of `lipmodel map`; without a range, the playable one."""

    tension_hz: _pair(20, 2000, "Hz", "[from, to]", rising=True) | None = None
    pressure_kpa: _pair(0, 40, "kPa", "[from, to]", rising=True) | None = None
    columns: whole(2, 1000) = 60
    rows: whole(2, 1000) = 40
    note_s: number(0.1, 10, "s") = 0.4


PLAYED_ONLY = ("field", "energy", "dynamics", "steadiness")  # of [show]


class Show(Table):
    """More pictures of a take, each with its figures in report.json."""

    mirror: yes_no() = Field(False, description="what the bell sends back, against frequency")
    field: yes_no() = Field(False, description="pressure and motion along the tube")
    echo: yes_no() = Field(False, description="the reflection function: one click and its echoes")
    energy: yes_no() = Field(False, description="where the blown energy goes")
    dynamics: yes_no() = Field(False, description="level and spectrum against the breath")
    directivity: yes_no() = Field(False, description="where the open end sends its sound")
    steadiness: yes_no() = Field(False, description="lips, breath and pitch of a held note")
