"""The [source] table: what makes a sound in a tube that nobody blows.

Values stay in the units of the file.
"""

from lipmodel.bore import assembly
from lipmodel.bore.bore_file import BoreFile
from lipmodel.bore.valves import valve_set
from lipmodel.errors import SceneError
from lipmodel.files import schema
from lipmodel.files.schema import Problem, Table, choice, number

KINDS = ("pop", "breath", "tone", "flame")
# the keys of each kind, beside kind, at_mm and lip_end
KEYS = {
    "pop": ("strength_kpa", "start_s"),
    "breath": ("flow_l_s",),
    "tone": ("flow_l_s", "sweep_hz"),
    "flame": ("heat_w", "lag_ms", "draught_m_s"),
}
COMMON = ("kind", "at_mm", "lip_end")
LIP_END = {"pop": "closed", "breath": "closed", "tone": "closed", "flame": "open"}
FLOW_L_S = {"breath": 0.02, "tone": 0.02}
SWEEP_HZ = (50.0, 1500.0)
LOWEST_HZ, HIGHEST_HZ = 20.0, 5000.0


def _sweep(value):
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError
    if not all(schema.is_number(v) and LOWEST_HZ <= v <= HIGHEST_HZ for v in value):
        raise ValueError
    if value[0] == value[1]:
        raise ValueError
    return float(value[0]), float(value[1])


Sweep = schema.parsed(
    tuple[float, float], _sweep, f"[from, to], two numbers from {LOWEST_HZ:g} to {HIGHEST_HZ:g} Hz"
)


class Source(Table):
    """A sound put in at one place of the tube; keys that belong to another kind are refused.

    pop: one pulse, as of a hand on the mouthpiece; strength_kpa is the peak of the wave that it
    starts.  breath: noise of a turbulent stream; flow_l_s is the rms of the flow's flutter.
    tone: a loudspeaker that sweeps; flow_l_s is the peak of its flow.  flame: heat that answers
    to the motion of the air after lag_ms; draught_m_s is the steady stream that feeds it.
    """

    kind: choice(*KINDS)
    at_mm: number(0, 50_000, "mm") = 0.0
    lip_end: choice("closed", "open") = "closed"
    strength_kpa: number(0.001, 20, "kPa") | None = None
    start_s: number(0, 3600, "s") | None = None
    flow_l_s: number(0.0001, 2, "l/s") | None = None
    sweep_hz: Sweep | None = None
    heat_w: number(0, 2000, "W") | None = None
    lag_ms: number(0.05, 50, "ms") | None = None
    draught_m_s: number(0.02, 20, "m/s") | None = None

    @classmethod
    def complete(cls, data):
        kind = data.get("kind")
        if kind not in KINDS:
            return data
        defaults = {"lip_end": LIP_END[kind], "strength_kpa": 1.0, "start_s": 0.1}
        defaults |= {"flow_l_s": FLOW_L_S.get(kind), "sweep_hz": list(SWEEP_HZ)}
        defaults |= {"heat_w": 4.0, "lag_ms": 1.0, "draught_m_s": 0.3}
        known = {*COMMON, *KEYS[kind]}
        return {k: v for k, v in defaults.items() if k in known} | data

    @classmethod
    def rules(cls, data, place):
        kind = data.get("kind")
        if kind not in KINDS:
            return []
        others = {key for keys in KEYS.values() for key in keys} - set(KEYS[kind])
        told = f'expected to be left out: "{kind}" takes {", ".join((*COMMON[1:], *KEYS[kind]))}'
        found = [Problem((key,), value, told) for key, value in data.items() if key in others]
        if kind == "pop" and data.get("lip_end") == "open":
            found.append(
                Problem(("lip_end",), "open", 'expected "closed": a slap closes the lip end')
            )
        return found


def misplaced(source: dict, instrument: dict, spec: BoreFile) -> list[Problem]:
    """What a [source] asks of an instrument that cannot be: a place outside the tube, valves or
    slide that only notes can set."""
    found = []
    if instrument.get("valves") == "auto":
        told = 'expected valves such as "0", "2" or "13"; "auto" needs a tune or a phrase'
        found.append(Problem(("instrument", "valves"), "auto", told))
    if isinstance(instrument.get("slide_position"), list):
        told = "expected one number: with a [source] the slide stands still"
        found.append(Problem(("instrument", "slide_position"), instrument["slide_position"], told))
    at = source.get("at_mm")
    length = None if found else _length_mm(instrument, spec)
    if length is not None and schema.is_number(at) and at > length:
        told = f"outside the tube; expected a number from 0 to {length:.10g} mm"
        found.append(Problem(("source", "at_mm"), at, told))
    return found


def _length_mm(instrument: dict, spec: BoreFile) -> float | None:
    """Length in whole tenths of a mm of the tube as it is held; None where that is told anyway."""
    try:
        bore = assembly.to_bore(
            spec,
            valves=valve_set(spec, instrument.get("valves", "0")),
            **{
                key: instrument[key]
                for key in (
                    "tuning_slide_pull_mm", "first_slide_pull_mm", "third_slide_pull_mm",
                    "slide_position",
                )
                if schema.is_number(instrument.get(key))
            },
        )  # fmt: skip
    except (SceneError, TypeError, ValueError):
        return None
    return int(bore.length * 1e4) / 10
