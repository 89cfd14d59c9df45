"""The tables of report.json: names, types and their order in the file.

None stands where there is nothing to tell: a silent note has no frequency.
"""

from typing import NotRequired, TypedDict

from lipmodel.output.report_types_heard import NoteSteadiness, Number, Room, Steadiness


class Air(TypedDict):
    temperature_c: float
    sound_speed_m_s: float
    density_kg_m3: float


class Resonance(TypedDict):
    n: int
    frequency_hz: float
    magnitude_pa_s_m3: float
    quality: Number
    sounding: str
    written: str
    cents: float


class Slide(TypedDict):
    """A slide that moves: its position against time, resonances against position."""

    time_s: list[float]
    position: list[float]
    positions: list[float]
    resonances_hz: list[list[float]]


class Pitch(TypedDict):
    time_s: list[float]
    frequency_hz: list[Number]
    step_s: float


class NoteEnergy(TypedDict):
    blown_w: float
    jet_w: float
    lips_w: float
    into_bore_w: float
    wall_w: float
    throat_w: float
    radiated_w: float
    wall_at_w: dict[str, float]
    residual: float
    bore_residual: float
    radiated_share: float
    radiated_share_by_impedance: Number


class Join(TypedDict):
    """How a note is begun out of the one before it."""

    kind: str  #: slur, legato, soft, tongued or accent
    dip_db: float | None  #: by which the heard level falls there


class Note(TypedDict):
    start_s: float
    end_s: float
    valves: str
    slide_position: float
    tension_hz: Number
    pressure_kpa: Number
    mouthpiece_rms_pa: float
    frequency_hz: Number
    sounding: str | None
    written: str | None
    cents: Number
    partial: int | None
    resonance_hz: Number
    cents_from_resonance: Number
    lock: Number
    lipped_cents: Number
    state: str
    centroid_hz: Number
    energy: NotRequired[NoteEnergy | None]
    bend_cents: NotRequired[float]
    number: NotRequired[int]
    join: NotRequired["Join | None"]
    steadiness: NotRequired[NoteSteadiness | None]  #: where lips or breath drift


class OctaveOff(TypedDict):
    """Heard an octave below (-1) or above (1) the pitch in the mouthpiece."""

    start_s: float
    end_s: float
    octave: int
    frequency_hz: float


class Level(TypedDict):
    level: str
    lufs: Number
    target_lufs: Number
    true_peak_dbtp: Number
    spl_db: Number
    laf_max_db: Number
    gain_db: float
    limited_by_true_peak: bool
    reason: str | None
    repeated_to_measure: bool
    distance_m: float
    place: str


class Energy(TypedDict):
    """Books of the whole take; the throat's only with lips, the lip end's only with a source."""

    blown_j: float
    into_bore_j: float
    wall_j: float
    radiated_j: float
    throat_j: NotRequired[float]
    valves_j: NotRequired[float]
    lips_and_jet_j: float
    player_j: NotRequired[float]  #: that pressing the lips firmer gave them
    lungs_j: NotRequired[float]  #: with a mouth: lungs_j = blown_j + glottis_j + mouth_j
    glottis_j: NotRequired[float]
    mouth_j: NotRequired[float]  #: still in the mouth at the end
    stored_j: float
    radiated_at_lip_end_j: NotRequired[float]
    residual: float
    blown_w: float
    into_bore_w: float
    wall_w: float
    radiated_w: float


class Mouth(TypedDict):
    """The air upstream of the lips; `moves`: whether the tongue does."""

    from_hz: float
    to_hz: float
    peak_pa_s_m3: float
    quality: float
    resonates: bool  #: whether its impedance has a peak
    moves: bool
    at_jumps_hz: list[float]


class Steepening(TypedDict):
    on: bool
    shock_distance_m: Number
    at_s: Number
    strength: float
    brassiness: Number


Jump = TypedDict(
    "Jump", {"time_s": float, "from": str, "to": str, "tension_hz": float, "pressure_kpa": float}
)


class Spectrum(TypedDict):
    frequency_hz: list[float]
    level_db: list[float]


class Heard(TypedDict):
    n: int
    resonance_hz: float
    frequency_hz: float
    cents_from_resonance: float


class Growth(TypedDict):
    n: int
    frequency_hz: float
    fed_per_s: float
    lost_per_s: float
    grows: bool


class Source(TypedDict):
    """What the scene says of it (each kind has its own keys), and what came of it."""

    kind: str
    at_mm: float
    lip_end: str
    strength_kpa: NotRequired[float]
    start_s: NotRequired[float]
    flow_l_s: NotRequired[float]
    sweep_hz: NotRequired[list[float]]
    heat_w: NotRequired[float]
    lag_ms: NotRequired[float]
    draught_m_s: NotRequired[float]
    placed_mm: float
    sounds: bool
    spectrum: Spectrum
    heard: list[Heard]
    draught: bool | None
    rayleigh: list[Growth]


class Pair(TypedDict):
    """Two takes of one pitch, one held by the tube and one not."""

    first: dict
    other: dict
    level_difference_db: float


class Member(TypedDict):
    """One bore of several side by side: its shape, resonances, what they are multiples of."""

    name: str
    x_m: list[float]
    radius_m: list[float]
    resonances_hz: list[float]
    multiples: list[float]
    ratios: list[float]


class Pedal(TypedDict):
    written: str
    frequency_hz: float
    support: list[dict]


class Mirror(TypedDict):
    curve_hz: list[float]
    members: list[dict]
    partials: list[dict]


class Field(TypedDict):
    played: dict | None
    partials: list[dict]


class Echo(TypedDict):
    marks: list[dict]
    returns: list[dict]
    members: list[dict]


class Dynamics(TypedDict):
    markings_kpa: dict[str, float]
    rows: list[dict]


class Timing(TypedDict):
    compile_s: float
    simulate_s: float
    total_s: float


class DirectivityRow(TypedDict):
    """One pitch: level over a source of the same power that sends out alike to all sides."""

    frequency_hz: float
    sounding: str
    written: str
    cents: float
    ka: float
    level_db: list[float]
    half_angle_deg: int | None


class Directivity(TypedDict):
    angle_deg: list[int]
    end_angle_deg: float
    rows: list[DirectivityRow]


class TakeReport(TypedDict):
    """What is known of a take before its sound is levelled; `timing` once it is measured."""

    scene: str
    variant: str
    title: str
    version: str
    made_with: dict
    rate_hz: float
    length_s: float
    inputs: dict
    bore: dict
    changed: list[str]
    air: Air
    resonances: list[Resonance]
    slide: Slide | None
    pitch: Pitch
    notes: list[Note]
    steadiness: NotRequired[Steadiness]
    heard: NotRequired[list[OctaveOff]]
    energy: Energy
    room: NotRequired["Room | None"]
    mouth: NotRequired["Mouth | None"]
    steepening: Steepening | None
    jumps: list[Jump]
    source: NotRequired[Source]
    timing: NotRequired[Timing]


class Report(TakeReport):
    """report.json; those after `level` where a scene's takes are compared or shown so."""

    sha256: str
    sentences: list[str]
    level: Level
    pair: NotRequired[Pair]
    family: NotRequired[list[Member]]
    pedal: NotRequired[Pedal]
    mirror: NotRequired[Mirror]
    field: NotRequired[Field]
    echo: NotRequired[Echo]
    dynamics: NotRequired[Dynamics]
    steady: NotRequired[dict]
    directivity: NotRequired[Directivity]


# in the file, what comes with the sound stands beside what it belongs to
BEFORE = {"changed": ("sha256", "sentences"), "energy": ("level",)}


def complete(take: TakeReport, added: dict) -> Report:
    """A new dict of both, in the order of the file."""
    late = {name for names in BEFORE.values() for name in names}
    order = [name for key in take for name in (*BEFORE.get(key, ()), key)]
    order += [name for name in added if name not in late]
    both = {**take, **added}
    return {name: both[name] for name in order}
