"""A take as the frames of a film: a curve with a cursor, and below it the tube in slow motion.

What stands still is drawn once; each frame is a copy of it with a few patches on it.
"""

import numpy as np

from lipmodel.output.pictures.colours import INK, PAPER
from lipmodel.output.pictures.film_layout import DPI, UPRIGHT, WIDE, Layout, sheet, slower
from lipmodel.output.pictures.tube import Tube, covered, mixed, rgb

FPS = 30
CURSOR, DOT = 5, 13  # px: width of the line, radius of the dot
LIPS_ROOM = 160  # px
EDGE = 3  # px of an axis that a patch leaves as they are


class Film:
    """Frames of one take.

    `report`: the dict of report.json; `traces`: arrays of traces.npz; `animation`: the dict of
    field.json, or None, which leaves the curve alone.
    """

    def __init__(self, report: dict, traces: dict, animation: dict | None, upright=False):
        self.layout = UPRIGHT if upright else WIDE
        self.size = self.layout.size
        self.length = report["length_s"]
        self.frames = int(np.ceil(round(self.length * FPS, 6)))
        self.tube = _tube(animation, self.layout) if animation else None
        self.slower = slower(animation["frequency_hz"]) if animation else None
        self.still, self.axes = _pixels(sheet(report, traces, self.tube, self.layout))
        track = report.get("pitch") or {"time_s": [], "frequency_hz": []}
        self.track = [np.array(track[key], float) for key in ("time_s", "frequency_hz")]

    def frame(self, number: int) -> np.ndarray:
        """Frame `number` (from 0, FPS a second), shape (height, width, 3), bytes."""
        time = number / FPS
        frame = self.still.copy()
        if self.tube:
            self._inside(frame, time * self.tube.animation["frequency_hz"] / self.slower)
        self._cursor(frame, time)
        return frame

    def _inside(self, frame, phase):
        tube, layout = self.tube, self.layout
        values, lips = tube.along(phase), tube.lips(phase)
        curve = tube.curve(values)[EDGE:-EDGE, EDGE:]
        _lay(frame, tube.bore(values), layout.tube - layout.half, layout.left)
        _lay(frame, lips, layout.tube - len(lips) // 2, layout.left - tube.room)
        _lay(frame, curve, layout.along[0] + EDGE, layout.left + EDGE)

    def _cursor(self, frame, time):
        x, _ = self._place(time, 1.0)
        top, bottom = self._rows()
        left = round(x - CURSOR / 2)
        frame[top:bottom, left : left + CURSOR] = rgb(INK)
        times, pitches = self.track
        if not len(times):
            return
        pitch = pitches[min(np.searchsorted(times, time), len(times) - 1)]
        if np.isfinite(pitch):
            _dot(frame, *self._place(time, pitch))

    def _place(self, time, value):
        """Column and row, px from the top left, of a point of the upper curve."""
        x, up = self.axes.transData.transform((min(time, self.length), value))
        return x, self.size[1] - up

    def _rows(self):
        box = self.axes.get_window_extent()
        return round(self.size[1] - box.y1), round(self.size[1] - box.y0)


def _tube(animation, layout: Layout) -> Tube:
    """To scale, and as large as there is room both ways."""
    across = (layout.far - layout.left) / animation["x_m"][-1]
    scale = min(across, (layout.half - 8) / max(animation["radius_m"]))
    return Tube(animation, scale, layout.half, layout.along[1] - layout.along[0], LIPS_ROOM)


def _lay(frame, patch, top, left):
    rows, columns = patch.shape[:2]
    # between colours from 0 to 255, so that it needs no clipping
    frame[top : top + rows, left : left + columns] = patch + 0.5


def _dot(frame, x, y):
    """A round mark with a pale rim, its middle at (x, y) px."""
    left, top = int(x) - DOT - 2, int(y) - DOT - 2
    part = frame[max(top, 0) : top + 2 * DOT + 5, max(left, 0) : left + 2 * DOT + 5]
    rows, columns = np.indices(part.shape[:2])
    away = np.hypot(columns + 0.5 + max(left, 0) - x, rows + 0.5 + max(top, 0) - y)
    pale = mixed(part.astype(np.float32), rgb(PAPER), covered(DOT + 2 - away))
    part[:] = mixed(pale, rgb(INK), covered(DOT - 1 - away))


def _pixels(figure):
    """The figure as an array (height, width, 3) of bytes, and its first axes."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure.set_dpi(DPI)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.array(canvas.buffer_rgba())[..., :3].copy(), figure.axes[0]
