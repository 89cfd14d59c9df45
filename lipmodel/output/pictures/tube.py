"""The tube in slow motion as patches of pixels: pressure as shade, the lips opening and closing.

Edges are drawn by how much of a pixel they cover, so that they stay smooth while they move.
"""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, FLESH, INK, OVER, UNDER

WALL, LINE = 4.0, 5.0  # px, how thick the bore's wall and the curve are drawn
THINNEST = 2.0  # px: half of the narrowest bore to be seen
PALE = 0.65  # exponent of the shade: weak pressures are seen too
LIP_WIDTH, LIP_HEIGHT, LIP_GAP = 0.36, 0.27, 0.42  # of the room across, of `half`, of `half`
LIPS_HALF = 0.8  # of `half`: what the lips need when they are widest open


def rgb(colour: str) -> np.ndarray:
    """ "#rrggbb" as three numbers from 0 to 255."""
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], np.float32)


def shade(value) -> np.ndarray:
    """Colours, shape (n, 3), of values from -1 (UNDER) over 0 (paper) to 1 (OVER)."""
    value = np.clip(np.asarray(value, np.float32), -1, 1)[:, None]
    share = np.abs(value) ** PALE
    return 255 + (np.where(value > 0, rgb(OVER), rgb(UNDER)) - 255) * share


def covered(distance) -> np.ndarray:
    """Share of a pixel that is covered, `distance` px inside of an edge."""
    return np.clip(np.asarray(distance, np.float32) + 0.5, 0, 1)


def mixed(under, over, share) -> np.ndarray:
    """`over` laid on `under`, colours of shape (..., 3), with `share` of shape (...)."""
    return under + (over - under) * share[..., None]


class Tube:
    """What is inside the tube during one period of a note.

    `animation`: the dict of field.json; `scale`: px a metre; `half`: px from the middle of the
    tube to the edge of its patch; `curve`: height in px of the curve's patch; `room`: px for the
    lips.  All patches are arrays of shape (rows, columns, 3), 0 to 255.
    """

    def __init__(self, animation: dict, scale: float, half: int, curve: int, room: int):
        self.animation, self.half, self.room = animation, half, room
        self.pressure = np.asarray(animation["pressure_pa"], float)
        self.opening = np.asarray(animation["lip_opening_mm2"], float)
        self.most = max(float(np.abs(self.pressure).max()), 1e-9)
        self.x = np.asarray(animation["x_m"], float)
        self.columns = (np.arange(round(self.x[-1] * scale)) + 0.5) / scale
        self.rows = ((curve - 1) / 2 - np.arange(curve, dtype=np.float32))[:, None]
        self.still, self.inside = self._bore(scale)

    def _bore(self, scale):
        """The patch without any pressure, and the share of each pixel that shows it."""
        radius = np.interp(self.columns, self.x, self.animation["radius_m"]) * scale
        radius = np.maximum(radius, THINNEST)
        rows = np.abs(np.arange(2 * self.half) - self.half + 0.5)[:, None]
        outward = (rows - radius) / np.hypot(1, np.gradient(radius))
        inside, all_of_it = (covered(edge - outward)[..., None] for edge in (0, WALL))
        return 255 * (1 - all_of_it) + rgb(INK) * (all_of_it - inside), inside

    def _now(self, table, phase):
        """A row of `table` (or one number of a trace) between two frames; `phase` in periods."""
        place = phase % 1 * len(table)
        first, share = int(place), place % 1
        return table[first] * (1 - share) + table[(first + 1) % len(table)] * share

    def along(self, phase: float) -> np.ndarray:
        """Pressure over the largest at each column of px, -1 to 1."""
        now = self._now(self.pressure, phase) / self.most
        return np.interp(self.columns, self.x, now).astype(np.float32)

    def bore(self, values) -> np.ndarray:
        """The bore, filled with the shade of `values` as from `along`."""
        return self.still + self.inside * shade(values)

    def curve(self, values) -> np.ndarray:
        """The same as a curve, over a line for the pressure of the room."""
        height = values * (self.rows[0, 0] - LINE)
        between = covered(self.rows * np.sign(height)) * covered(np.abs(height) - abs(self.rows))
        patch = mixed(np.float32(255), shade(values)[None], between)
        patch = mixed(patch, rgb(AIR_COLUMN), covered(1 - np.abs(self.rows)) + 0 * height)
        off = np.abs(self.rows - height) / np.hypot(1, np.gradient(height))
        return mixed(patch, rgb(INK), covered(LINE / 2 - off))

    def lips(self, phase: float) -> np.ndarray:
        """Both lips from the side, as far open as they are."""
        share = self._now(self.opening, phase) / max(self.opening.max(), 1e-9)
        gap = max(0.0, share) * LIP_GAP * self.half
        wide, high = LIP_WIDTH * self.room, LIP_HEIGHT * self.half
        across = (np.arange(self.room) + 0.5 - self.room / 2) / wide
        middle = round(LIPS_HALF * self.half)
        rows = (np.arange(2 * middle) + 0.5 - middle)[:, None]
        patch = np.full((2 * middle, self.room, 3), 255, np.float32)
        for side in (-1, 1):
            down = (rows - side * (gap / 2 + high)) / high
            far = np.hypot(across, down)  # 1 on the ellipse
            inward = (1 - far) * far / np.hypot(across / wide, down / high)
            patch = mixed(patch, rgb(INK), covered(inward))
            patch = mixed(patch, rgb(FLESH), covered(inward - 3))
        return patch
