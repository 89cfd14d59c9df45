"""A quantity against time: what a scene gives as a number or as breakpoints, as one value."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Breakpoints:
    """Straight lines between `values` at rising `times` in s, held at both ends; a quantity that
    does not move has one."""

    times: tuple[float, ...]
    values: tuple[float, ...]

    @classmethod
    def of(cls, given) -> "Breakpoints":
        """A number, or ((time_s, value), ...)."""
        points = [(0.0, given)] if np.isscalar(given) else given
        return cls(tuple(float(t) for t, _ in points), tuple(float(v) for _, v in points))

    @property
    def points(self) -> list[tuple[float, float]]:
        """(time, value) of each."""
        return list(zip(self.times, self.values, strict=True))

    @property
    def moves(self) -> bool:
        """Whether there is more than one."""
        return len(self.times) > 1

    @property
    def first(self) -> float:
        """The first value."""
        return self.values[0]

    @property
    def last(self) -> float:
        """The last value."""
        return self.values[-1]

    @property
    def leaves(self) -> float:
        """The time at which it leaves its first value; the last one where it never does."""
        away = next((i for i, v in enumerate(self.values) if v != self.first), len(self.values))
        return self.times[away - 1]

    def at(self, time):
        """Its value at `time` s, of the shape of `time`."""
        found = np.interp(time, self.times, self.values)
        return found if np.ndim(found) else float(found)

    def scaled(self, factor: float) -> "Breakpoints":
        """The same with every value times `factor`: kPa to Pa."""
        return Breakpoints(self.times, tuple(v * factor for v in self.values))

    def later(self, seconds: float) -> "Breakpoints":
        """The same, `seconds` later."""
        return Breakpoints(tuple(t + seconds for t in self.times), self.values)

    def sampled(self, rate: float, samples: int, start: int = 0) -> np.ndarray:
        """One value a sample at `rate` Hz, shape (samples,); `start`: number of the first."""
        if not self.moves:
            return np.full(samples, self.first)
        return self.at((start + np.arange(samples)) / rate)
