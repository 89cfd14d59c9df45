"""What is played: the [player] table, its notes, and the short form of a tune.

Values stay in the units of the file.  `Player.notes` gives tune and phrase in one form.
"""

from contextlib import suppress

from pydantic import Field

from lipmodel.bore.bore_file import NoteName
from lipmodel.bore.valves import parse_valves
from lipmodel.files import schema
from lipmodel.files.schema import Problem, Table, choice, number, whole
from lipmodel.scene.steadiness import MOST_BREATH_PERCENT, PLAYERS, STILL, Drift, Steadiness
from lipmodel.scene.tune import DYNAMIC_WORDS, MOST_NOTES, REST, TuneItem, parse_tune

MOST_BREAKPOINTS = 10_000
SHORTEST_NOTE = 0.02  # s
LONGEST_S = 3600.0  # of a sound
BREATH_S = 0.25  # a breath is taken at the end of a note; common practice, no published source
OF_NOTES = ("articulation", "attack", "release_ms", "vibrato")
A_DYNAMIC = schema.one_of(DYNAMIC_WORDS)
A_VALVE = 'valves such as "0", "2" or "13"'
AS_BREAKPOINTS = "or breakpoints [[time_s, value], ...]"


def breakpoints(low: float, high: float, unit: str = ""):
    """Type of a number, or of [[time_s, value], ...] with rising times."""
    one = schema.range_text(low, high, unit)

    def check(value):
        if isinstance(value, bool | int | float):
            if not (schema.is_number(value) and low <= value <= high):
                raise ValueError(f"expected {one}")
            return float(value)
        if not isinstance(value, list) or not 1 <= len(value) <= MOST_BREAKPOINTS:
            raise ValueError

        def fits(given):
            return schema.is_number(given) and low <= given <= high

        found = list(_breakpoint_problems(value, fits, one))
        if found:
            schema.raise_problems(*found)
        return tuple((float(t), float(v)) for t, v in value)

    kind = float | tuple[tuple[float, float], ...]
    return schema.parsed(kind, check, f"{one}, {AS_BREAKPOINTS}")


def _breakpoint_problems(points: list, fits, one: str):
    before = None
    for i, point in enumerate(points):
        if not isinstance(point, list) or len(point) != 2:
            yield Problem((i,), point, "expected [time_s, value]")
            continue
        time, value = point
        if not (schema.is_number(time) and 0 <= time <= LONGEST_S):
            yield Problem((i, 0), time, f"expected a time from 0 to {LONGEST_S:g} s")
        else:
            if before is not None and not time > before:
                yield Problem((i, 0), time, f"expected a time after {before:g} s")
            before = time
        if not fits(value):
            yield Problem((i, 1), value, f"expected {one}")


def _dynamics(value):
    """A dynamic, or [[time_s, dynamic], ...] with rising times."""
    if isinstance(value, list) and 1 <= len(value) <= MOST_BREAKPOINTS:
        found = list(_breakpoint_problems(value, DYNAMIC_WORDS.__contains__, A_DYNAMIC))
        if found:
            schema.raise_problems(*found)
        return tuple((float(time), word) for time, word in value)
    if not isinstance(value, str) or value not in DYNAMIC_WORDS:
        raise ValueError(f"expected {A_DYNAMIC}{schema.did_you_mean(value, DYNAMIC_WORDS)}")
    return value


def valves_type(auto: str):
    """Type of the valves pressed, as "0", "2", "13" or "auto"; `auto` is the end of the words."""
    words = A_VALVE + auto

    def check(value):
        if value == "auto":
            return value
        try:
            return parse_valves(value)
        except ValueError as error:
            raise ValueError from error

    return schema.parsed(str, check, words)


def _valve_moves(value):
    """[[time_s, valves], ...] with rising times."""
    if not isinstance(value, list) or len(value) > MOST_BREAKPOINTS:
        raise ValueError

    def fits(given):
        with suppress(ValueError):
            return bool(parse_valves(given))
        return False

    found = list(_breakpoint_problems(value, fits, A_VALVE))
    if found:
        schema.raise_problems(*found)
    return tuple((float(time), parse_valves(valves)) for time, valves in value)


def _tune(value):
    if not isinstance(value, str) or not value.strip():
        raise ValueError
    parse_tune(value)
    return value


Pressure = breakpoints(0, 40, "kPa")
Tension = breakpoints(20, 2000, "Hz")
SlidePosition = breakpoints(1, 7)
ValveMoves = schema.parsed(
    tuple[tuple[float, str], ...], _valve_moves, "[[time_s, valves], ...] with rising times"
)
SlidePull = number(0, 200, "mm")
TuningPull = number(-100, 200, "mm")  # in, as far as the instrument lets it
Dynamic = choice(*DYNAMIC_WORDS)
Dynamics = schema.parsed(
    str | tuple[tuple[float, str], ...], _dynamics, f"{A_DYNAMIC}, or [[time_s, dynamic], ...]"
)
Tune = schema.parsed(str, _tune, 'notes and beats, such as "C4 1, D4 1, - 1"')
Attack = choice("plain", "tongued", "breath")
Articulation = choice("soft", "tongued", "legato", "detached", "accent")
Release = number(5, 500, "ms")
DEPTHS = ("depth_percent", "depth_cents")  # the wrong and the right one but for the breath


class Vibrato(Table):
    """A regular wave of the pitch, by lips or slide, or of the breath."""

    by: choice("lips", "breath", "slide") = "lips"
    rate_hz: number(3, 9, "Hz") = 5.5
    depth_cents: number(0, 100, "cents") = Field(20.0, description="to either side")
    depth_percent: number(0, 30, "%") = Field(10.0, description="of the breath, to either side")

    @classmethod
    def rules(cls, data, place):
        by = data.get("by", "lips")
        wrong, right = ("depth_cents", "depth_percent") if by == "breath" else DEPTHS
        if wrong not in data:
            return []
        return [Problem((wrong,), data[wrong], f"expected {right} for a vibrato by {by}")]


class Note(Table):
    """One note of a phrase."""

    note: NoteName
    start_s: number(0, LONGEST_S, "s") | None = Field(None, description="default: end of the last")
    length_s: number(SHORTEST_NOTE, 600, "s") = 1.0
    pressure_kpa: Pressure | None = Field(None, description="breakpoints count from the start")
    dynamic: Dynamics | None = Field(None, description="breakpoints count from the start")
    bend_cents: breakpoints(-1200, 1200, "cents") = Field(0.0, description="lipped, from the slot")
    valves: valves_type(' or "auto"') = "auto"
    slide_position: SlidePosition | None = Field(None, description="default: the usual one")
    first_slide_pull_mm: SlidePull | None = None
    third_slide_pull_mm: SlidePull | None = None
    slur: schema.yes_no() = Field(False, description="into the next note, without the tongue")
    articulation: Articulation | None = Field(None, description="default: the player's")
    attack: Attack | None = Field(None, description="default: the player's")
    release_ms: Release | None = None
    vibrato: Vibrato | None = None

    @classmethod
    def rules(cls, data, place):
        return _not_both(data, "dynamic", "pressure_kpa")

    @property
    def end_s(self) -> float:
        """When the note ends, seconds."""
        return self.start_s + self.length_s


def _not_both(data: dict, one: str, other: str) -> list[Problem]:
    if one in data and other in data:
        return [Problem((one,), data[one], f"expected {other} or {one}, not both")]
    return []


class Player(Table):
    """Breath, and what the lips are set to: by tension, or by notes."""

    pressure_kpa: Pressure | None = Field(None, description="breath pressure in the mouth")
    tension_hz: Tension | None = Field(None, description="the lips' own frequency: not the note")
    tune: Tune | None = None
    tempo_bpm: number(20, 300, "beats a minute") = 96.0
    dynamic: Dynamic = Field("mf", description="of notes that name neither dynamic nor pressure")
    articulation: Articulation = Field("soft", description="how the tongue parts the notes")
    attack: Attack = Field("plain", description="how notes begin after a silence")
    release_ms: Release = Field(30.0, description="in which the breath ends")
    vibrato: Vibrato | None = Field(None, description="of notes that name none")
    steadiness: Steadiness = Field(STILL, description="how still lips and breath are held")
    take: whole(1, 1_000_000) = Field(1, description="another take drifts otherwise")
    flutter_percent: number(0, MOST_BREATH_PERCENT, "%") = Field(
        0.0, description="another name for steadiness = { breath_drift_percent = ... }"
    )
    phrase: schema.listed(Note, MOST_NOTES, "notes") | None = None

    @classmethod
    def rules(cls, data, place):
        given = [key for key in ("tension_hz", "tune", "phrase") if key in data]
        found = _not_both(data, "dynamic", "pressure_kpa")
        found += _not_both(data, "flutter_percent", "steadiness")
        if not given:
            found.append(Problem((), None, "expected tension_hz, tune or phrase", "plain"))
        for extra in given[1:]:
            told = f"expected either {given[0]} or {extra}, not both"
            found.append(Problem((extra,), data[extra], told))
        if given[:1] == ["tension_hz"]:
            told = "expected tune or phrase beside it: only notes are begun and ended"
            found += [Problem((k,), data[k], told) for k in OF_NOTES if k in data]
        if given == ["tension_hz"] and "pressure_kpa" not in data:
            expected = f"{schema.range_text(0, 40, 'kPa')}, {AS_BREAKPOINTS}"
            found.append(Problem(("pressure_kpa",), None, f"missing; expected {expected}", "plain"))
        if data.get("phrase") == []:  # too many are told by the list's type
            found.append(Problem(("phrase",), None, "expected at least one note", "plain"))
        return found

    @classmethod
    def finish(cls, value):
        """Fill in where notes start; refuse notes that overlap."""
        if value.phrase is None:
            return value
        notes, found, end = [], [], 0.0
        for i, note in enumerate(value.phrase):
            start = end if note.start_s is None else note.start_s
            if start < end - 1e-9:
                told = f"expected {end:g} s or later: the note before lasts until then"
                found.append(Problem(("phrase", i, "start_s"), start, told))
            if notes and notes[-1].slur and start > end + 1e-9:
                told = f"expected {end:g} s: the note before is slurred into this one"
                found.append(Problem(("phrase", i, "start_s"), start, told))
            notes.append(note.model_copy(update={"start_s": start}))
            end = start + note.length_s
        if notes[-1].slur:
            told = "expected false: no note comes after"
            found.append(Problem(("phrase", len(notes) - 1, "slur"), True, told))
        if found:
            schema.raise_problems(*found)
        return value.model_copy(update={"phrase": tuple(notes)})

    @property
    def drift(self) -> Drift:
        """How far lips and breath drift."""
        if self.flutter_percent:
            return Drift(breath_drift_percent=self.flutter_percent)
        return self.steadiness if isinstance(self.steadiness, Drift) else PLAYERS[self.steadiness]

    @property
    def notes(self) -> tuple[Note, ...]:
        """The notes of the phrase or tune with start and length; none if tension is given."""
        if self.phrase is not None:
            return self.phrase
        beat = 60 / self.tempo_bpm
        items = parse_tune(self.tune) if self.tune else ()
        return tuple(self._note(item, beat) for item in items if item.name != REST)

    def _note(self, item: TuneItem, beat: float) -> Note:
        """A note of the tune; `beat` in s."""
        dynamic = item.dynamics
        if dynamic is not None and len(dynamic) > 1:
            dynamic = tuple(((at - item.start) * beat, w or self.dynamic) for at, w in dynamic)
        elif dynamic is not None:
            dynamic = dynamic[0][1]
        length = item.length * beat
        if item.breath:
            length -= min(BREATH_S, length / 2)
        return Note.model_construct(
            note=item.name,
            start_s=item.start * beat,
            length_s=length,
            slur=item.slur,
            articulation=item.articulation,
            dynamic=dynamic,
        )
