"""What the player keeps from one scene to the next: the lips, the pitch, or the effort.

Lips: lip setting and breath of the first take, on every tube.  Pitch: the lips are set anew, so
that each plays what the first played.  Effort: the lips of the first, blown as many times harder
than the pressure at which the note begins (`analysis.threshold`) as in the first.
What a scene or variant itself writes in another way stays as written.
"""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.analysis.pitch import lowest_for, pitch, steady_pitch
from lipmodel.analysis.segments import spans
from lipmodel.analysis.threshold import threshold
from lipmodel.errors import SceneError
from lipmodel.player import embouchure
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.build import Built, build
from lipmodel.player.gesture import Gesture, steady_part
from lipmodel.player.performance import (
    CLOSE_ENOUGH,
    MOST_TAKES,
    POLISHING,
    Performance,
    perform,
    take,
)
from lipmodel.player.plan import gesture_of, plan, planned
from lipmodel.player.source import SourceRun, play_source
from lipmodel.player.tubing import held_bore
from lipmodel.scene.scene import Scene, Variant
from lipmodel.scene.variants import AS_WRITTEN
from lipmodel.units import KPA, cents, note_name

HOLDS = ("lips", "pitch", "effort")
TOLD = {
    None: "nobody plays: what is put into the tube is as each scene says",
    "lips": "lip setting and breath, as in the first sound where nothing else is told",
    "pitch": "the pitch; the lips were set anew for it on each",
    "effort": "the effort: each is blown as many times harder than what its note needs to begin "
    "as the first is",
}
HARDEST = 40e3  # Pa, as a scene allows
ALIKE = 0.005  # of the effort
MOST_ROUNDS = 4


@dataclass(frozen=True)
class Held:
    """A variant as it was played, and in sentences what the player did otherwise than written."""

    variant: Variant
    performance: Performance | SourceRun
    adapted: tuple[str, ...] = ()


@dataclass(frozen=True)
class Moment:
    """A steady note at its telling moment: lip setting and pitch (nan: none) in Hz, breath in Pa,
    the bore it is played on."""

    tension: float
    mouth: float
    frequency: float
    bore: object


def play_variants(variants, hold):
    """Each variant played with what `hold` keeps of the first, one `Held` after another.

    `hold` is None, for lips or for scenes without a player, or one of HOLDS.  Raises SceneError,
    one line, where a scene leaves nothing to hold so.
    """
    sources = [v for v in variants if v.scene.source]
    if sources and hold:
        raise SceneError(
            f"{_named(sources[0])}: has a [source]: --hold {hold} needs the lips of a [player]"
        )
    if hold == "pitch":
        return _at_one_pitch(variants)
    if hold == "effort":
        return _at_one_effort(variants)
    return _with_one_pair_of_lips(variants)


def hold_in_words(variants, hold) -> str:
    """What is held, in words."""
    return TOLD[None if any(v.scene.source for v in variants) else hold or "lips"]


def _named(variant: Variant) -> str:
    """The start of an error about a variant."""
    label = "" if variant.name == AS_WRITTEN else f' variant "{variant.name}"'
    return f"{variant.scene.path}:{label}".removesuffix(":")


def _with_one_pair_of_lips(variants):
    first = None
    for variant in variants:
        scene = variant.scene
        if scene.source:
            yield Held(variant, play_source(build(scene)))
        elif first is None or scene.player.tension_hz is not None:
            first = first or perform(scene)
            yield Held(variant, first if scene is first.built.scene else perform(scene))
        elif _same_notes(scene, first.built.scene):
            yield Held(variant, _through(build(scene), first.gesture))
        else:
            yield Held(variant, perform(scene), ("the lips, set for the notes that it plays",))


def _same_notes(scene: Scene, first: Scene) -> bool:
    return first.player is not None and scene.player == first.player


def _through(built: Built, gesture: Gesture, factors=None) -> Performance:
    """Lips and breath of a gesture (made for another tube) on this one, each note with the valves
    usual here; `factors`: of each note's breath, one for all without notes."""
    factors = factors or [1.0] * max(len(gesture.notes), 1)
    if not gesture.notes:
        mouth = gesture.mouth.scaled(factors[0])
        return take(built, replace(gesture, mouth=mouth), book=True)
    notes = []
    for note, known, factor in zip(built.scene.phrase(), gesture.notes, factors, strict=True):
        own = planned(built, note)
        lips = {
            name: getattr(known, name)
            for name in ("settings", "slope", "follow", "join", "late", "surge")
        }
        notes.append(replace(own, **lips, pressure=known.pressure.scaled(factor)))
    return take(built, gesture_of(built, notes, gesture.length), book=True)


def moments(performance: Performance, variant: Variant, hold: str) -> list[Moment]:
    """The steady notes of a performance; SceneError where there is none, or lips or slide are
    swept."""
    gesture, rate = performance.gesture, performance.built.rate
    if gesture.notes:
        parts = [steady_part(note, rate) for note in gesture.notes]
        bores = [_held_bore(performance, note) for note in gesture.notes]
    else:
        parts = [_steady_stretch(performance, variant, hold)]
        bores = [performance.built.bore]
    result = []
    for part, bore in zip(parts, bores, strict=True):
        pressure = performance.played.mouthpiece_pressure[part]
        tension, mouth = performance.tension[part.stop - 1], performance.mouth[part.stop - 1]
        heard = steady_pitch(pressure, rate, floor=20.0, lowest=lowest_for(tension))
        result.append(Moment(float(tension), float(mouth), float(heard), bore))
    return result


def _held_bore(performance: Performance, note):
    return held_bore(performance.built, note.valves, note.slide.first, note.pulls)


def _steady_stretch(performance: Performance, variant: Variant, hold: str) -> slice:
    """Samples of the longest note of a scene without notes, whose lips must be still."""
    rate, tension = performance.built.rate, performance.tension
    pressure = performance.played.mouthpiece_pressure
    times, track = pitch(pressure, rate, lowest=lowest_for(tension))
    at = np.minimum((times * rate).astype(int), len(tension) - 1)
    notes = spans(times, track, tension[at])
    needs = f"--hold {hold} needs one steady note"
    if any(s.swept for s in notes) or performance.gesture.slide is not None:
        raise SceneError(f"{_named(variant)}: lips or slide are swept: {needs}")
    if not notes:
        raise SceneError(f"{_named(variant)}: no note holds: {needs}")
    span = max(notes, key=lambda s: s.end - s.start)
    first, last = max(span.at - 0.1, span.start), min(span.at + 0.2, span.end)
    return slice(int(first * rate), int(last * rate))


# ---- pitch


def _at_one_pitch(variants):
    kinds = [v.scene.player.tension_hz is None for v in variants]
    if len(set(kinds)) > 1:
        raise SceneError(
            f"{_named(variants[kinds.index(not kinds[0])])}: --hold pitch needs scenes of one "
            "kind: all with notes, or all with tension_hz"
        )
    return _same_notes_heard(variants) if kinds[0] else _same_note_held(variants)


def _same_notes_heard(variants):
    """Scenes of notes: each plays the notes that sound in the first."""
    first, wanted = None, None
    for variant in variants:
        built = build(variant.scene)
        heard = [_pitch_of(built, note) for note in variant.scene.phrase()]
        if first is None:
            first, wanted = built, heard
            yield Held(variant, perform(variant.scene, built))
            continue
        written = [[n.note for n in v.phrase()] for v in (variant.scene, first.scene)]
        if heard != wanted and written[0] != written[1]:
            raise SceneError(
                f"{_named(variant)}: plays other notes than the first sound: --hold pitch needs "
                "the same"
            )
        scene = variant.scene
        if heard != wanted or scene.notes.a4_hz != first.scene.notes.a4_hz:
            scene = _as_sounding(scene, first)
            built = build(scene)
        adapted = ("the lips, set anew so that every note keeps its pitch",)
        yield Held(replace(variant, scene=scene), perform(scene, built), adapted)


def _pitch_of(built: Built, note):
    """What a note of a scene sounds: times, and cents at each."""
    bend, base = Breakpoints.of(note.bend_cents), 100.0 * built.sounding(note.note)
    return bend.times, [base + value for value in bend.values]


def _as_sounding(scene: Scene, first: Built) -> Scene:
    """The scene with the notes that sound in the first, for an instrument in another key."""
    phrase = [
        note.model_dump(exclude_unset=True) | {"note": note_name(first.sounding(known.note))}
        for note, known in zip(scene.player.notes, first.scene.player.notes, strict=True)
    ]
    notes = first.scene.notes.model_dump() | {"read_as": "sounding"}
    return scene.replace({"player.phrase": phrase, "notes": notes})


def _same_note_held(variants):
    """Scenes of one steady note: the lips of each set for the pitch of the first."""
    target = None
    for variant in variants:
        if target is None:
            performance = perform(variant.scene)
            (moment,) = moments(performance, variant, "pitch")
            target = moment.frequency
            yield Held(variant, performance)
            continue
        performance, before, after = _tuned(variant, target)
        words = f"the lips: {before:.1f} -> {after:.1f} Hz, so that they play {target:.1f} Hz too"
        yield Held(variant, performance, (words,))


def _tuned(variant: Variant, target):
    """The variant with its lips set so that it plays `target` Hz; their setting in Hz before and
    after."""
    built = build(variant.scene)
    gesture = plan(built)
    middle = gesture.length / 2
    written, mouth = (p.at(middle) for p in (gesture.tension, gesture.mouth))
    begin = f"{_named(variant)}: no lip setting plays {target:.1f} Hz, the first sound's pitch, "
    begin += f"at {mouth / KPA:.3g} kPa; "
    try:
        setting = embouchure.solve(built.horn, target, mouth, None)
    except embouchure.UnreachableError as error:
        near = "nothing sounds" if error.nearest is None else f"the nearest is {error.nearest:.1f}"
        raise SceneError(f"{begin}{near}; more breath, or --hold lips, would help") from error
    tension = setting.tension
    for _ in range(MOST_TAKES):
        lips = gesture.tension.scaled(tension / written)
        performance = take(built, replace(gesture, tension=lips), book=True)
        (moment,) = moments(performance, variant, "pitch")
        off = cents(moment.frequency, target)
        if abs(off) <= POLISHING:
            break
        tension *= 2 ** (float(np.clip(-off / setting.slope, -60, 60)) / 1200)
    if not abs(off) <= CLOSE_ENOUGH:
        raise SceneError(f"{begin}played so it came out {off:+.0f} cents off")
    return performance, written, moment.tension


# ---- effort


def _at_one_effort(variants):
    efforts = None
    for lips in _with_one_pair_of_lips(variants):
        variant = lips.variant
        own = moments(lips.performance, variant, "effort")
        if efforts is None:
            first = own
            efforts = [m.mouth / _begins(lips.performance, m, variant) for m in own]
            yield lips
            continue
        if len(own) != len(first):
            raise SceneError(
                f"{_named(variant)}: plays {len(own)} notes, the first sound {len(first)}: "
                "--hold effort needs as many"
            )
        performance = _blown(lips.performance, variant, efforts, first)
        after = moments(performance, variant, "effort")
        before, now = (_span([m.mouth / KPA for m in ms]) for ms in (own, after))
        words = (
            f"the breath: {before + ' -> ' if before != now else 'still '}{now} kPa, "
            f"{_span(efforts)} times what the note needs to begin, as in the first"
        )
        yield Held(variant, performance, (*lips.adapted, words))


def _blown(performance: Performance, variant: Variant, efforts, first) -> Performance:
    """The performance with each note's breath so that it stands at its effort."""
    built, gesture = performance.built, performance.gesture
    factors = [1.0] * len(efforts)
    for _ in range(MOST_ROUNDS):
        own = moments(performance, variant, "effort")
        steps = [
            effort * _begins(performance, m, variant, known.frequency) / m.mouth
            for effort, m, known in zip(efforts, own, first, strict=True)
        ]
        if all(abs(step - 1) < ALIKE for step in steps):
            break
        hardest = max(m.mouth * step for m, step in zip(own, steps, strict=True))
        if hardest > HARDEST:
            raise SceneError(
                f"{_named(variant)}: the first sound's effort would take {hardest / KPA:.0f} kPa "
                f"here: expected up to {HARDEST / KPA:g}; try --hold pitch"
            )
        factors = [f * step for f, step in zip(factors, steps, strict=True)]
        performance = _through(built, gesture, factors)
    return performance


def _begins(performance: Performance, moment: Moment, variant: Variant, near=None) -> float:
    """Pressure in Pa at which the moment's note begins; `near` Hz where it is silent."""
    built = performance.built
    heard = near if np.isnan(moment.frequency) else moment.frequency
    onset = None
    if heard is not None and np.isfinite(heard):
        horn = built.horn
        onset = threshold(
            moment.bore, built.air, horn.lips, moment.tension, heard, tract=horn.mouth
        )
    if onset is None:
        raise SceneError(
            f"{_named(variant)}: lips of {moment.tension:.0f} Hz begin at no breath here, so "
            "there is no effort to hold; try --hold pitch"
        )
    return onset.pressure


def _span(values) -> str:
    """ "8.1", or "8.1 to 9.3"."""
    low, high = f"{min(values):.3g}", f"{max(values):.3g}"
    return low if low == high else f"{low} to {high}"
