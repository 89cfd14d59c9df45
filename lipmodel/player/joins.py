"""How one note goes over into the next: slurred, or parted by the tongue while the breath goes on.

The tongue takes a part of the breath away for a moment; how large a part is found by listening, as
the dip of the sound depends on note and instrument.  Depths and times are ours, after the
usual descriptions; common practice, no published source.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from lipmodel.player.short_note import LOOSER
from lipmodel.units import cents

# dB that the heard level dips by
DIPS = {"soft": 8.0, "legato": 4.0, "tongued": 10.0, "accent": 10.0, "slur": 1.0}
STOP = 0.02  # s that the tongue stays
STOPS_OF_WAVE = 2.5  # ... or periods of a low note
LONGEST_STOP = 0.04  # s
CLOSES, OPENS = 0.006, 0.008  # s
FIRST_SHARE = 0.3  # of the breath above the threshold that is left, at first
# s before (-) and after the start of a slurred note at which its breath begins to grow, is at its
# height, falls again, is the note's own: found by trying
PUSH = (-0.012, 0.0, 0.009, 0.023)
VALVE_TRAVEL = 0.035  # s, of a valve from up to down
DOWN = 0.9  # times their setting: where tongued lips go first on the way down
# slurred lips: s after the start (before: -) at which they leave and arrive, times their setting
# to which they go; the second way is tried where the first leaves a hole.  Found by trying.
UPWARD = ((-0.01, 0.01, 1.1), (0.005, 0.015, 1.05))
DOWNWARD = ((-0.01, 0.01, 1.0), (-0.01, 0.01, 0.91))
TRIES = 3  # of the first way
WRONG = 60.0  # cents: further off than this a note came out on another slot
REACH = 1.06  # times: so much further go lips that missed
FURTHEST = 1.35
SUPPORT = 1.1  # times the breath with which lips leap up: the air must take up another pattern
MOST_SUPPORT = 2.6
SHALLOW, SHARE_A_DB = 0.9, 0.03  # below, dip and missing breath are in proportion
MOST_PEAK, SHARE_A_PEAK = 0.7, 0.05  # dB over the notes; share that a dB of it takes back
NEAR_DIP = 1.2  # dB
WINDOW, SLUR_WINDOW = 0.025, 0.01  # s, of the level; at least two periods
EARLY, HIDDEN = 0.2, 0.5  # of a slide's way: the tongue opens before its end, hides its middle
DETACHED = 0.5  # of a note's length sounds
LATE, HARDER = 0.0025, 0.02  # standard deviation of the moment (s) and force of an attack: ours


@dataclass(frozen=True)
class Join:
    """How a note is begun out of the one before it.

    share: of the breath that the tongue leaves, over 1 where a leap needs more; stop: s that it
    stays; early: s before the note's start at which it opens again; beyond: times the setting to
    which the lips go first; most: the largest share that is not louder than the notes; leave,
    arrive: s after the note's start (before: -) at which slurred lips do; other: another way of
    theirs, (leave, arrive, beyond).
    """

    kind: str
    share: float = 1.0
    stop: float = 0.0
    early: float = 0.0
    beyond: float = 1.0
    most: float = MOST_SUPPORT
    leave: float = UPWARD[0][0]
    arrive: float = UPWARD[0][1]
    other: tuple | None = None

    @property
    def closes(self) -> float:
        """s before the note's start at which the breath begins to change."""
        return -PUSH[0] if self.kind == "slur" else self.early + self.stop + CLOSES

    @property
    def lips_leave(self) -> float:
        """s before the note's start at which the lips leave the note before."""
        return -self.leave if self.kind == "slur" else self.closes

    @property
    def lips_arrive(self) -> float:
        """s after the note's start at which the lips are where they go first."""
        return self.arrive if self.kind == "slur" else 0.0


def kinds(notes, written) -> list[str | None]:
    """How each of the scene's notes is begun: a key of DIPS, or None out of silence.

    `written`: the same notes before the player's own ways were filled in.
    """
    found = [None]
    for (before, note), own in zip(pairwise(notes), written[:-1], strict=True):
        silent = note.start_s > before.end_s + 1e-6 or before.articulation == "detached"
        if silent or own.release_ms is not None or note.attack == "breath":
            found.append(None)
        elif before.slur:
            found.append("slur")
        else:
            found.append("tongued" if note.articulation == "detached" else note.articulation)
    return found


def valves_leave(join: Join | None) -> float:
    """s before a note's start at which its valves begin to move: all the way behind the tongue,
    in a slur with the lips."""
    return VALVE_TRAVEL * (0.4 if join is not None and join.kind == "slur" else 1.0)


def first_join(kind, before, note, threshold: float) -> Join | None:
    """The join of two planned notes before it was ever heard; `threshold`: Pa a Hz."""
    if kind is None:
        return None
    step = cents(note.settings[0], before.settings[-1])
    if kind == "slur":
        (leave, arrive, beyond), other = UPWARD if step > 0 else DOWNWARD
        if abs(step) <= WRONG:
            return Join(kind)
        share = SUPPORT if step > 0 else 1.0
        return Join(kind, share, beyond=beyond, leave=leave, arrive=arrive, other=other)
    beyond = DOWN if step < -WRONG else 1.0
    if note.comes < LOOSER:  # its setting plays another partial unless the lips come from below
        beyond = note.comes
    needs = threshold * note.frequency / note.pressure.first
    share = needs + FIRST_SHARE * (1 - needs) if needs < 1 else 0.95
    stop = float(np.clip(STOPS_OF_WAVE / note.frequency, STOP, LONGEST_STOP))
    return Join(kind, share, min(stop, (before.end - before.start) / 4), beyond=beyond)


def over_the_way(join: Join, time: float) -> Join:
    """The join with the tongue hiding the middle of a slide's way of `time` s."""
    if join.kind == "slur":
        return join
    return replace(join, early=EARLY * time, stop=max(HIDDEN * time, join.stop))


@dataclass(frozen=True)
class Heard:
    """dB by which the level falls at a join below the softer note, and its highest peak lies over
    those of both notes."""

    dip: float
    peak: float


def off(join: Join, heard: Heard) -> float:
    """How little a join is as it should be, dB squared; a peak counts as ten times its dip."""
    dip = heard.dip - DIPS[join.kind]
    smooth = join.kind == "slur" and join.share <= 1
    dip = max(dip, 0.0) if smooth else dip
    return dip**2 + (10 * max(heard.peak - MOST_PEAK, 0.0)) ** 2


def heard_again(join: Join, heard: Heard | None, error: float | None) -> Join:
    """The join for the next take, after what was heard of it and a note `error` cents off."""
    if error is not None and abs(error) > WRONG:
        further = REACH if error < 0 else 1 / REACH
        beyond = float(np.clip(join.beyond * further, 1 / FURTHEST, FURTHEST))
        return replace(join, beyond=beyond)
    if heard is None or is_close(join, heard):
        return join
    wanted = DIPS[join.kind]
    if heard.peak > MOST_PEAK and join.share > SHALLOW:
        share = join.share - float(np.clip(SHARE_A_PEAK * heard.peak, 0.03, 0.2))
        return replace(join, share=share, most=0.5 * (share + join.share))
    if join.share < SHALLOW:
        more = float(np.clip((wanted / max(heard.dip, 0.5)) ** 0.8, 0.5, 2.0))
        share = 1 - more * (1 - join.share)
    else:
        share = join.share + float(np.clip(SHARE_A_DB * (heard.dip - wanted), -0.3, 0.3))
    least = 1.0 if join.kind == "slur" else 0.0
    return replace(join, share=max(min(share, join.most), least))


def next_join(tried) -> Join:
    """The join for the next take after all `tried`, [(join, what was heard of it, cents off)]: the
    best one is heard again, slurred lips also try their other way; one that just came out on
    another partial first has to find its own."""
    best, heard, error = tried[-1] if math.isinf(_worth(*tried[-1])) else _best(tried)
    if heard is not None and is_close(best, heard) and not math.isinf(_worth(best, heard, error)):
        return best
    if len(tried) == TRIES and best.other is not None:
        leave, arrive, beyond = best.other
        return replace(best, leave=leave, arrive=arrive, beyond=beyond, most=MOST_SUPPORT)
    if len(tried) == TRIES + 1 and best.other is not None:
        return heard_again(*tried[-1])
    found = heard_again(best, heard, error)
    while any(found == join for join, _, _ in tried) and abs(found.share - best.share) > 0.01:
        found = replace(found, share=(found.share + best.share) / 2)
    return found


def best_join(tried) -> Join:
    """The best one of those `tried`, as in `next_join`."""
    return _best(tried)[0]


def _best(tried):
    # of the same join the last trial: meanwhile the note before may have become another
    latest = {join: (join, heard, error) for join, heard, error in tried}
    return min(reversed(latest.values()), key=lambda one: _worth(*one))


def _worth(join: Join, heard: Heard | None, error: float | None) -> float:
    if error is not None and abs(error) > WRONG:
        return math.inf
    return 0.0 if heard is None else off(join, heard)


def is_close(join: Join, heard: Heard) -> bool:
    """Whether the notes are parted as they should be; a slur may be smoother, and more breath than
    a peak allows is not to be had."""
    dip = heard.dip - DIPS[join.kind]
    if heard.peak > MOST_PEAK and join.share > 1:
        return False
    if dip > NEAR_DIP:
        return join.share >= join.most - 0.01
    return dip >= -NEAR_DIP or (join.kind == "slur" and join.share <= 1)


def listen(sound, rate: float, before, note) -> Heard | None:
    """What is heard of the join of two planned notes in `sound`, shape (n,); None where they are
    too short to tell."""
    span = min(before.end - before.start, note.end - note.start) / 2
    if span < 0.05:
        return None
    window = SLUR_WINDOW if note.join.kind == "slur" else WINDOW
    size = max(int(rate * 2 / note.frequency), int(window * rate))
    reach = min(span, 0.2)
    first = max(int((note.start - reach) * rate) - size, 0)
    part = np.asarray(sound[first : int((note.start + reach) * rate) + size], float)
    window = np.hanning(size)
    level = np.convolve(part**2, window / window.sum(), "same")
    at, apart = int(note.start * rate) - first, int(0.6 * reach * rate)
    here = slice(at - int(min(0.08, span) * rate), at + int(min(0.1, span) * rate))
    left, right = slice(size, at - apart), slice(at + apart, None)
    if not (level[left].size and level[right].size and level[here].size):
        return None
    softer = min(np.median(level[left]), np.median(level[right]))
    size = np.abs(part)
    return Heard(
        float(10 * np.log10(max(softer, 1e-20) / max(level[here].min(), 1e-20))),
        float(20 * np.log10(size[here].max() / max(size[left].max(), size[right].max(), 1e-10))),
    )


def unevenness(seed: int, count: int) -> np.ndarray:
    """(s late, times harder) of each of `count` attacks, shape (count, 2), the first as it is; no
    two notes of a player begin quite alike."""
    drawn = np.random.default_rng(seed).standard_normal((count, 2)).clip(-2, 2)
    found = np.array([0.0, 1.0]) + drawn * np.array([LATE, HARDER])
    found[:1] = 0.0, 1.0
    return found
