"""How one note goes over into the next: slurred, or parted by the tongue while the breath goes on.

The tongue takes a part of the breath away for a moment; how large a part is found by listening, as
the dip of the sound depends on note and instrument.  Depths and times are ours, set by ear of the
usual descriptions; common practice, no published source.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from lipmodel.units import cents

# dB that the heard level dips by
DIPS = {"soft": 8.5, "legato": 4.0, "tongued": 10.5, "accent": 10.5, "slur": 1.0}
STOP = 0.02  # s that the tongue stays
STOPS_OF_WAVE = 2.5  # ... or periods of a low note
LONGEST_STOP = 0.04  # s
CLOSES, OPENS = 0.006, 0.008  # s
FIRST_SHARE = 0.35  # of the breath above the threshold that is left, at first
SLUR_MOVE = 0.02  # s in which the lips of a slur go over; ends where the note starts
PUSH = 0.01  # s before the start by which the breath of a slur is at its height; then it
PUSHED = 0.02  # s after the start is the note's own
BEYOND = 1.08  # times: lips on the way up go on beyond their setting, then come back
WRONG = 60.0  # cents: further off than this a note came out on another slot
REACH = 1.06  # times: so much further go lips that missed
FURTHEST = 1.35
SUPPORT = 1.35  # times the breath with which lips leap: the air must take up another pattern
MOST_SUPPORT = 1.8
SHALLOW, SHARE_A_DB = 0.9, 0.03  # below, dip and missing breath are in proportion
NEAR_DIP = 1.2  # dB
WINDOW = 0.01  # s, of the level; two periods of low notes
EARLY, HIDDEN = 0.2, 0.5  # of a slide's way: the tongue opens before its end, hides its middle
DETACHED = 0.5  # of a note's length sounds
LATE, HARDER = 0.0025, 0.02  # standard deviation of the moment (s) and force of an attack: ours


@dataclass(frozen=True)
class Join:
    """How a note is begun out of the one before it.

    share: of the breath that the tongue leaves, over 1 where a leap needs more; stop: s that it
    stays; early: s before the note's start at which it opens again; beyond: times the setting to
    which the lips go first.
    """

    kind: str
    share: float = 1.0
    stop: float = 0.0
    early: float = 0.0
    beyond: float = 1.0

    @property
    def closes(self) -> float:
        """s before the note's start at which the breath begins to change."""
        return SLUR_MOVE + PUSH if self.kind == "slur" else self.early + self.stop + CLOSES

    @property
    def lips_leave(self) -> float:
        """s before the note's start at which the lips leave the note before."""
        return SLUR_MOVE if self.kind == "slur" else self.closes


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


def first_join(kind, before, note, threshold: float) -> Join | None:
    """The join of two planned notes before it was ever heard; `threshold`: Pa a Hz."""
    if kind is None:
        return None
    step = cents(note.settings[0], before.settings[-1])
    beyond = BEYOND if step > WRONG else 1 / BEYOND if step < -WRONG else 1.0
    if kind == "slur":
        return Join(kind, 1.0 if beyond == 1.0 else SUPPORT, beyond=beyond)
    needs = threshold * note.frequency / note.pressure.first
    share = needs + FIRST_SHARE * (1 - needs) if needs < 1 else 0.95
    stop = float(np.clip(STOPS_OF_WAVE / note.frequency, STOP, LONGEST_STOP))
    return Join(kind, share, min(stop, (before.end - before.start) / 4), beyond=beyond)


def over_the_way(join: Join, time: float) -> Join:
    """The join with the tongue hiding the middle of a slide's way of `time` s."""
    if join.kind == "slur":
        return join
    return replace(join, early=EARLY * time, stop=max(HIDDEN * time, join.stop))


def heard_again(join: Join, dip: float | None, error: float | None) -> Join:
    """The join for the next take, after a dip in dB and a note that was `error` cents off."""
    if error is not None and abs(error) > WRONG:
        further = REACH if error < 0 else 1 / REACH
        beyond = float(np.clip(join.beyond * further, 1 / FURTHEST, FURTHEST))
        return replace(join, beyond=beyond)
    if dip is None or is_close(join, dip):
        return join
    wanted = DIPS[join.kind]
    if join.share < SHALLOW:
        more = float(np.clip((wanted / max(dip, 0.5)) ** 0.8, 0.5, 2.0))
        share = 1 - more * (1 - join.share)
    else:
        share = join.share + float(np.clip(SHARE_A_DB * (dip - wanted), -0.3, 0.3))
    least = 1.0 if join.kind == "slur" else 0.0
    return replace(join, share=float(np.clip(share, least, MOST_SUPPORT)))


def is_close(join: Join, dip: float) -> bool:
    """Whether the notes are parted as they should be; a slur may be smoother."""
    off = dip - DIPS[join.kind]
    if off > 0 and join.share >= MOST_SUPPORT:
        return True  # no breath does more
    return off <= NEAR_DIP and (off >= -NEAR_DIP or (join.kind == "slur" and join.share <= 1))


def dip(sound, rate: float, before, note) -> float | None:
    """dB by which the level of `sound`, shape (n,), falls between two planned notes below the
    softer of them; None where they are too short to tell."""
    span = min(before.end - before.start, note.end - note.start) / 2
    if span < 0.05:
        return None
    size = max(int(rate * 2 / note.frequency), int(WINDOW * rate))
    reach = min(span, 0.2)
    first = max(int((note.start - reach) * rate) - size, 0)
    part = np.asarray(sound[first : int((note.start + reach) * rate) + size], float)
    window = np.hanning(size)
    level = np.convolve(part**2, window / window.sum(), "same")
    at = int(note.start * rate) - first
    here = level[at - int(min(0.08, span) * rate) : at + int(min(0.1, span) * rate)]
    left, right = level[size : at - int(0.6 * reach * rate)], level[at + int(0.6 * reach * rate) :]
    if not (len(left) and len(right) and len(here)):
        return None
    quiet = max(float(here.min()), 1e-20)
    return float(10 * np.log10(max(min(np.median(left), np.median(right)), 1e-20) / quiet))


def unevenness(seed: int, count: int) -> np.ndarray:
    """(s late, times harder) of each of `count` attacks, shape (count, 2), the first as it is; no
    two notes of a player begin quite alike."""
    drawn = np.random.default_rng(seed).standard_normal((count, 2)).clip(-2, 2)
    found = np.array([0.0, 1.0]) + drawn * np.array([LATE, HARDER])
    found[:1] = 0.0, 1.0
    return found
