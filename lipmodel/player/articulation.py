"""How a note is begun, held and ended: attack, vibrato, release.

Takes `planning.PlannedNote`s; breakpoints in SI come out.  Times are common practice, no published
source, except where a line says otherwise.
"""

import numpy as np

from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.joins import CLOSES, OPENS, PUSH
from lipmodel.player.short_note import ATTACK, FROM_ABOVE, SETTLING

# s from no breath to all of it.  plain: the calibrated player's; tongued: the tongue opens on full
# pressure, which sinks a little as the air begins to flow; breath: no tongue at all
ATTACKS = {"plain": ATTACK, "tongued": 0.004, "breath": 0.15}
SURGE, ACCENT = 1.15, 1.4  # times the note's pressure, behind the tongue
SETTLED = 0.05  # s until it is the note's own
VIBRATO_AFTER = 0.3  # s after the attack
VIBRATO_POINTS = 16  # breakpoints a wave


def breath(note, after=None) -> list:
    """Breakpoints (s, Pa) of the mouth pressure of one note; `after`: the join of the next."""
    end = note.end - (note.quiet if after is None else 0.0)
    span = end - note.start
    points = _begun(note, span)
    release = min(note.release if after is None else after.closes, span / 4)
    begun = points[-1][0] - note.start
    points += [(note.start + t, p) for t, p in note.pressure.points if begun < t < span - release]
    last = note.pressure.at(span - release)
    points.append((end - release, last))
    if note.vibrato is not None and note.vibrato.by == "breath":
        share = note.vibrato.depth_percent / 100
        points = _waved(note, points, lambda wave: 1 + share * wave)
    if after is None:
        return [*points, (end, 0.0)]
    if after.kind == "slur":
        return points
    return [*points, (end - release + CLOSES, after.share * last)]


def _begun(note, span) -> list:
    """Breakpoints of the breath until the note is itself: from nothing, or from what the tongue
    left of it."""
    start = note.start + note.late
    join = note.join
    if join is not None and join.kind == "slur":
        _, rises, falls, settles = (min(time, span / 3) for time in PUSH)
        pressed = join.share * note.pressure.at(0.0)
        points = [(note.start + rises, pressed), (note.start + falls, pressed)]
        return [*points, (note.start + settles, note.pressure.at(settles))]
    if join is None:
        rise = min(ATTACKS[note.attack], span / 4)
        points = [(start, 0.0)]
    else:
        start -= join.early
        rise = OPENS
        points = [(start, join.share * note.pressure.at(0.0))]
    points.append((start + rise, note.surge * note.pressure.at(rise)))
    if note.surge != 1.0:
        settled = min(SETTLED, span / 3)
        points.append((note.start + settled, note.pressure.at(settled)))
    return points


def surge(attack: str, articulation: str) -> float:
    """Times the breath of the note at which it begins."""
    if articulation == "accent":
        return ACCENT
    return SURGE if "tongued" in (attack, articulation) else 1.0


def lips(note, after=None) -> list:
    """Breakpoints (s, Hz) of the lip setting of one note: it comes from above, or from the note
    before, and follows bends, slide and vibrato; `after`: the join of the next."""
    span = note.end - note.start
    release = min(note.release, span / 4)
    first = note.settings[0]
    beyond = FROM_ABOVE if note.join is None else note.join.beyond
    arrives = 0.0 if note.join is None else min(note.join.lips_arrive, span / 6)
    points = [(note.start + arrives, beyond * first)]
    points.append((note.start + arrives + min(SETTLING, span / 3), first))
    leaves = release / 2 if after is None else min(after.lips_leave, span / 3)
    points += [
        (note.start + time, setting)
        for time, setting in zip(note.lip_times, note.settings, strict=True)
        if arrives + SETTLING < time < span - leaves
    ]
    points.append((note.end - leaves, note.setting_at(span - leaves)))
    if note.follow.moves:
        points = _following(note, points)
    if note.vibrato is None or note.vibrato.by != "lips":
        return points
    # the setting swings further than the pitch, since the column holds it
    swing = note.vibrato.depth_cents / max(note.slope, 0.1)
    return _waved(note, points, lambda wave: 2 ** (swing * wave / 1200))


def firm_for(note, after=None) -> list:
    """Breakpoints (s, Pa) of the breath that the lips are set for: the note's own, before it is
    blown and whatever the tongue does; `after`: the join of the next."""
    span = note.end - note.start
    arrives = 0.0 if note.join is None else min(note.join.lips_arrive, span / 6)
    leaves = 0.0 if after is None else min(after.lips_leave, span / 3)
    inside = [(t, p) for t, p in note.pressure.points if arrives < t < span - leaves]
    ends = [(t, note.pressure.at(t)) for t in (arrives, span - leaves)]
    return [(note.start + t, p) for t, p in (ends[0], *inside, ends[1])]


def swayed(note) -> Breakpoints:
    """Slide positions of one note with its vibrato by slide."""
    if note.vibrato is None or note.vibrato.by != "slide":
        return note.slide
    # a position is a semitone; the lips, which stay, hold the pitch back a little
    swing = note.vibrato.depth_cents / 100 / (1 - min(note.slope, 0.5))
    last = note.end - note.start
    if last <= VIBRATO_AFTER:
        return note.slide
    at, wave = _wave(note.vibrato.rate_hz, VIBRATO_AFTER, last)
    early = [point for point in note.slide.points if point[0] < VIBRATO_AFTER]
    waved = note.slide.at(at) + swing * wave
    return Breakpoints.of([*early, *zip(at, waved, strict=True)])


def _following(note, points) -> list:
    """Breakpoints of lips that follow the slide."""
    times, settings = np.array(points).T
    more = note.start + np.array(note.follow.times)
    at = np.unique([*times, *more[(more > times[0]) & (more < times[-1])]])
    followed = np.exp(np.interp(at, times, np.log(settings))) * note.follows(at - note.start)
    return list(zip(at.tolist(), followed.tolist(), strict=True))


def _wave(rate, begin, end):
    at = np.arange(begin, end, 1 / (VIBRATO_POINTS * rate))
    return at, np.sin(2 * np.pi * rate * (at - begin))


def _waved(note, points, factor) -> list:
    """The breakpoints with their values times `factor(wave)` from the vibrato's begin on."""
    times, values = np.array(points).T
    begin = note.start + VIBRATO_AFTER
    if times[-1] <= begin:
        return points
    at, wave = _wave(note.vibrato.rate_hz, begin, times[-1])
    waved = np.exp(np.interp(at, times, np.log(np.maximum(values, 1e-9)))) * factor(wave)
    early = [p for p in points if p[0] < begin]
    return [*early, *zip(at.tolist(), waved.tolist(), strict=True), points[-1]]
