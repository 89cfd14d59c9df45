"""The geometry of a bore: radius against distance from the lip end.  It knows nothing of air.

A bore is one polyline of radius over x.  Curved shapes are drawn with enough straight pieces
that the pieces no longer matter (tests); a repeated x is a sudden change of diameter.
"""

from dataclasses import dataclass, field, replace

import numpy as np

ENDS = ("unflanged", "flanged", "closed", "node")
WIDENS = 1e-9  # m of radius: less than this is a cylinder
SHORTEST = 1e-3  # m


@dataclass(frozen=True, slots=True)
class Section:
    """A named stretch of the bore, metres from the lip end."""

    name: str
    start: float
    end: float
    shape: str = "points"


@dataclass(frozen=True)
class Bore:
    """Radius over x in metres from the lip end (x = 0) to the open end.

    `x` never falls and `radius` stays above 0, both of shape (n,).  `end` is "unflanged",
    "flanged", "closed" or "node" (a pressure node).  `marks` are (name, x) of places where tube
    can be added: "valve 1", "tuning slide", "slide".  Raises ValueError for anything else.
    """

    x: np.ndarray
    radius: np.ndarray
    sections: tuple[Section, ...] = ()
    marks: tuple[tuple[str, float], ...] = ()
    end: str = "unflanged"
    title: str = field(default="", compare=False)

    def __post_init__(self):
        x = np.array(self.x, float)
        radius = np.array(self.radius, float)
        if x.ndim != 1 or x.shape != radius.shape or len(x) < 2:
            raise ValueError("Bore: x and radius must be two lists of one length, at least 2 long")
        if not (np.all(np.isfinite(x)) and np.all(np.diff(x) >= 0)):
            raise ValueError("Bore: x must be finite and never fall")
        if not (np.all(np.isfinite(radius)) and np.all(radius > 0)):
            raise ValueError("Bore: every radius must be finite and above 0")
        if not x[-1] - x[0] >= SHORTEST:
            raise ValueError(f"Bore: length {x[-1] - x[0]:g} m: must be at least {SHORTEST} m")
        if self.end not in ENDS:
            raise ValueError(f"Bore: end = {self.end!r}: expected one of {', '.join(ENDS)}")
        x -= x[0]
        for name, value in (("x", x), ("radius", radius)):
            value.flags.writeable = False
            object.__setattr__(self, name, value)

    @classmethod
    def from_points(cls, x, radius, *, end="unflanged", **how) -> "Bore":
        """Bore through points in metres, straight lines between them.

        x, radius: shape (n,); end: "unflanged", "flanged", "closed" or "node".  Raises ValueError.

        >>> Bore.from_points([0.0, 1.0], [0.01, 0.01]).volume
        0.0003141592653589793
        """
        return cls(x, radius, end=end, **how)

    @property
    def length(self) -> float:
        """Length along the axis in metres."""
        return float(self.x[-1])

    @property
    def volume(self) -> float:
        """Volume in m3."""
        r, dx = self.radius, np.diff(self.x)
        return float(np.sum(np.pi / 3 * dx * (r[:-1] ** 2 + r[:-1] * r[1:] + r[1:] ** 2)))

    @property
    def mouthpiece_end(self) -> float:
        """Where the mouthpiece ends in metres; 0 for a bore without one."""
        return max((s.end for s in self.sections if s.name == "mouthpiece"), default=0.0)

    def radius_at(self, x):
        """Radius in metres at `x`; at a sudden change, the one on the open-end side."""
        x = np.asarray(x, float)
        after = np.clip(np.searchsorted(self.x, x, side="right"), 1, len(self.x) - 1)
        x0, x1 = self.x[after - 1], self.x[after]
        r0, r1 = self.radius[after - 1], self.radius[after]
        span = np.where(x1 > x0, x1 - x0, 1.0)
        return r0 + (r1 - r0) * np.clip((x - x0) / span, 0.0, 1.0)

    @property
    def flare_start(self) -> float:
        """Where the last widening stretch begins (metres), or the length if there is none.

        From here to the open end the bore only widens: no cylinder and no contraction follows.
        Sudden steps are passed over.
        """
        start = self.length
        for i in range(len(self.x) - 2, -1, -1):
            if self.x[i + 1] == self.x[i]:
                continue
            if self.radius[i + 1] - self.radius[i] <= WIDENS:
                break
            start = self.x[i]
        return float(start)

    @property
    def steps(self) -> list[tuple[float, float, float]]:
        """Sudden changes of diameter: (x, radius before, radius after), metres."""
        same = np.flatnonzero((np.diff(self.x) == 0) & (np.abs(np.diff(self.radius)) > WIDENS))
        return [(float(self.x[i]), float(self.radius[i]), float(self.radius[i + 1])) for i in same]

    def replaced_end(self, end: str | None) -> "Bore":
        """The same bore with another end (None: unchanged)."""
        return self if end in (None, self.end) else replace(self, end=end)
