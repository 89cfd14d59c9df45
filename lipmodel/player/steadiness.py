"""Lips and breath that are never quite still: slow drifts laid over what the player means to do.

Each is noise, drawn anew for every seed, take and kind, whose power is even up to a corner, falls
as 1/f^2 above it and is gone above a limit.  Corners and sizes are set so that held notes are as
unsteady as recorded single notes of trumpet, horn, trombone and tuba (pitch 1.2 to 5 cents rms,
level 0.2 to 1 dB); limits so that the drifts do not make the wave swing that goes round in a
long tube, at 29 Hz in a tuba, which with drifts of 1/f^2 further up swings by 2 to 4 cents.
"""

from math import exp, pi

import numpy as np

KNOTS = 200.0  # Hz, about: drawn so often, straight lines between
LIPS, BREATH = 0, 1  # kinds
CORNER = {LIPS: 4.0, BREATH: 1.5}  # Hz
LIMIT, ORDER = {LIPS: 20.0, BREATH: 14.0}, 8  # Hz, of a Butterworth filter: ours
PIECE = 1 << 15  # samples at once: they stay near the processor
SETTLED = 600  # knots after which a filter has forgotten how it began


class Wander:
    """A drift of mean 0 and standard deviation 1, in any number of pieces, one after the other:
    they are the same values however it is cut."""

    def __init__(self, kind: int, seed: int, take: int, rate: float):
        from scipy.signal import butter, sosfilt

        self.step = round(rate / KNOTS)  # samples
        self._drawn = np.random.default_rng((seed, take, kind))
        often = rate / self.step
        fall = [1.0, 0.0, 0.0, 1.0, -exp(-2 * pi * CORNER[kind] / often), 0.0]
        self._filter = np.vstack([fall, butter(ORDER, LIMIT[kind], fs=often, output="sos")])
        self._state = np.zeros((len(self._filter), 2))
        answer = sosfilt(self._filter, np.eye(1, SETTLED)[0])
        self._size = 1 / np.sqrt(answer @ answer)
        self._more(SETTLED)
        self._first, self._knots = 0, np.zeros(0)  # knots from the first on

    def sampled(self, first: int, count: int, shaped=lambda wave: wave) -> np.ndarray:
        """Samples `first` to `first + count` of `shaped(wave)`, shape (count,).  ValueError for
        what is past."""
        begin, stop = first // self.step, (first + count - 1) // self.step + 2  # knots
        if begin < self._first:
            raise ValueError(f"sample {first}: expected {self._first * self.step} or later")
        missing = stop - self._first - len(self._knots)
        if missing > 0:
            self._knots = np.concatenate([self._knots, self._more(missing)])
        self._knots, self._first = self._knots[begin - self._first :], begin
        knots = shaped(self._knots)[:, None]
        found = np.diff(knots, axis=0) * (np.arange(self.step) / self.step)
        found += knots[:-1]
        return found.ravel()[first - begin * self.step :][:count]

    def _more(self, count: int) -> np.ndarray:
        """The next knots."""
        from scipy.signal import sosfilt

        noise = self._size * self._drawn.standard_normal(count)
        found, self._state = sosfilt(self._filter, noise, zi=self._state)
        return found


class Unsteady:
    """What a player's drift does to lips and breath, piece after piece."""

    def __init__(self, drift, seed: int, take: int, rate: float):
        """`drift`: `lip_drift_cents` and `breath_drift_percent`, rms."""
        self.lip, self.share = drift.lip_drift_cents / 1200, drift.breath_drift_percent / 100
        self._lips, self._breath = (Wander(kind, seed, take, rate) for kind in (LIPS, BREATH))

    def lay_over(self, first: int, breath: np.ndarray, tension: np.ndarray):
        """Put the drifts into breath (Pa) and lip setting (Hz) from sample `first` on, arrays of
        shape (n,); the breath never below nothing, since one drawn in is another gesture."""
        for at in range(0, len(breath), PIECE):
            part = slice(at, at + PIECE)
            count = len(breath[part])
            if self.share:
                breath[part] *= self._breath.sampled(first + at, count, self._blown)
            if self.lip:
                tension[part] *= self._lips.sampled(first + at, count, self._set)

    def _blown(self, wave):
        return np.maximum(1 + self.share * wave, 0.0)

    def _set(self, wave):
        return np.exp2(self.lip * wave)


def unsteady(scene, rate: float) -> Unsteady | None:
    """The drifts of a scene's player; None where nothing drifts."""
    drift = scene.player.drift
    if not (drift.lip_drift_cents or drift.breath_drift_percent):
        return None
    return Unsteady(drift, scene.sound.seed, scene.player.take, rate)
