"""The map of a bore: which partial sounds at each lip setting and breath, and how firmly."""

import numpy as np
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FixedLocator, NullLocator
from scipy.ndimage import distance_transform_edt, label

from lipmodel.output.pictures.colours import AIR_COLUMN, GLIDING, INK, PAPER, PARTIALS, UNSTEADY
from lipmodel.output.pictures.style import SMALL, new_figure, size_in_pixels, spread, styled

PALE = 0.6  # share of paper in the colour of what is not locked
SETTING_TICKS = (20, 30, 50, 70, 100, 150, 200, 250, 300, 400, 500, 600, 800, 1000, 1500, 2000)
PRESSURE_TICKS = (0.2, 0.5, 0.7, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 30, 40)
TICK_WIDTH, TICK_HEIGHT = 62, 34  # px that a tick's number needs
JUMP = 0.4  # octaves of pitch between neighbouring cells
LEAST_LABELLED = 0.002  # share of all cells that a region needs for a label
LABEL_SIZE = 24  # points
LABEL_WIDTH, LABEL_HEIGHT, NUMBER_WIDTH = 66, 76, 28  # px that a region's or a mark's words need
LEGEND_COLUMNS = 5


@styled
def map_figure(title: str, document: dict, resonances, first="written", named=()):
    """Picture of a map, a matplotlib `Figure`.

    `document` is the dict of map.json; `resonances`: dicts as in report.json; `first`: which of
    a note's names is shown, "written" or "sounding"; `named`: (Hz, name) of notes to draw lines
    of equal pitch for, where the pitch glides.
    """
    figure = new_figure(title)
    led = "mouth_hz" in document
    axes = figure.add_axes((0.085, 0.13, 0.895, 0.765))
    rows = "mouth_hz" if led else "pressure_kpa"
    tension, pressure = (np.asarray(document[k], float) for k in ("tension_hz", rows))
    state = np.array(document["state"], object)
    partial = np.array([[n or 0 for n in row] for row in document["partial"]])
    sounds = np.isin(state, ("free", "bent", "locked"))
    partial = np.where(np.isin(partial, partial[np.isin(state, ("bent", "locked"))]), partial, 0)
    across, logarithmic = _edges(tension, True), bool(pressure[0] > 0)
    up = _edges(pressure, logarithmic)
    axes.set_xscale("log")
    axes.set_yscale("log" if logarithmic else "linear")
    axes.pcolormesh(across, up, _colours(partial, state, sounds), rasterized=True)
    _hatch(axes, across, up, state == "unsteady")
    regions = np.where(sounds, partial, -1)
    _outline(axes, across, up, np.where(state == "unsteady", -2, regions))
    axes.set_xlim(across[0], across[-1])
    axes.set_ylim(up[0], up[-1])
    _thresholds(axes, document["threshold"])
    _ticks(axes, SETTING_TICKS if led else PRESSURE_TICKS)
    axes.set_ylabel(
        f"Mouth resonance in Hz, at {document['pressure_kpa'][0]:g} kPa"
        if led
        else "Blowing pressure in kPa"
    )
    _resonances(axes, resonances)
    names = {r["n"]: f"{r['n']}\n{r[first]}" for r in resonances}
    gliding = sounds & (partial == 0)
    if gliding.any():
        _pitch_lines(axes, document, pressure, gliding.copy(), named)
    places = {
        names[int(n)]: _label_place((partial == n) & sounds, state)
        for n in np.unique(partial[sounds & (partial > 0)])
    }
    _labels(axes, {words: place for words, place in places.items() if place}, tension, pressure)
    if not sounds.any():
        middle = {"ha": "center", "va": "center", "transform": axes.transAxes}
        axes.text(0.5, 0.5, "nothing sounds here", fontsize=2 * SMALL, **middle)
    _legend(figure, state, gliding.any(), document["threshold"])
    return figure


def _edges(middles, logarithmic):
    """Edges of the cells whose middles these are, shape (n + 1,)."""
    values = np.log(middles) if logarithmic else middles
    between = 0.5 * (values[1:] + values[:-1])
    first, last = 2 * values[0] - between[0], 2 * values[-1] - between[-1]
    edges = np.concatenate([[first], between, [last]])
    return np.exp(edges) if logarithmic else np.maximum(edges, 0)


def colour_of(n: int) -> str:
    """Colour of partial `n`; 0 for a sound that no resonance holds."""
    return PARTIALS[(n - 1) % len(PARTIALS)] if n else GLIDING


def paler(colour) -> np.ndarray:
    return PALE * np.array(to_rgb(PAPER)) + (1 - PALE) * np.array(to_rgb(colour))


def _colours(partial, state, sounds):
    picture = np.empty((*state.shape, 3))
    picture[:] = to_rgb(PAPER)
    for n in np.unique(partial[sounds]):
        picture[sounds & (partial == n)] = paler(colour_of(int(n)))
        picture[(state == "locked") & (partial == n)] = to_rgb(colour_of(int(n)))
    picture[state == "unsteady"] = to_rgb(UNSTEADY)
    return picture


def _hatch(axes, across, up, where):
    cells = [
        [(across[c + i], up[r + j]) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
        for r, c in zip(*np.nonzero(where), strict=True)
    ]
    if cells:
        lines = {"facecolors": "none", "edgecolors": INK, "linewidths": 0, "hatch": "//"}
        axes.add_collection(PolyCollection(cells, **lines))


def _outline(axes, across, up, regions):
    """A line between cells of different partials, so that no border depends on colour."""
    lines = []
    for r, c in zip(*np.nonzero(regions[:, 1:] != regions[:, :-1]), strict=True):
        lines.append([(across[c + 1], up[r]), (across[c + 1], up[r + 1])])
    for r, c in zip(*np.nonzero(regions[1:] != regions[:-1]), strict=True):
        lines.append([(across[c], up[r + 1]), (across[c + 1], up[r + 1])])
    axes.add_collection(LineCollection(lines, colors=INK, linewidths=1.0))


def _thresholds(axes, rows):
    for n in sorted({row["partial"] for row in rows}):
        line = [(r["tension_hz"], r["pressure_kpa"]) for r in rows if r["partial"] == n]
        halo = [withStroke(linewidth=7, foreground=PAPER)]
        axes.plot(*zip(*line, strict=True), color=INK, linewidth=3.4, path_effects=halo)


def _ticks(axes, up):
    width, height = size_in_pixels(axes)
    for axis, wanted, room, length, least in (
        (axes.xaxis, SETTING_TICKS, axes.get_xlim(), width, TICK_WIDTH),
        (axes.yaxis, up, axes.get_ylim(), height, TICK_HEIGHT),
    ):
        if axis.get_scale() == "linear":
            continue
        inside = [t for t in wanted if room[0] <= t <= room[1]]
        places = [length * np.log(t / room[0]) / np.log(room[1] / room[0]) for t in inside]
        kept = [inside[i] for i in spread(places, least)]
        axis.set_major_locator(FixedLocator(kept))
        axis.set_major_formatter(lambda value, _: f"{value:g}")
        axis.set_minor_locator(NullLocator())
    axes.set_xlabel("Lip setting in Hz (not the note)")


def _resonances(axes, resonances):
    """A small mark at the top for each resonance of the air column, with its number where there
    is room."""
    low, high = axes.get_xlim()
    inside = [r for r in resonances if low < r["frequency_hz"] < high]
    across = size_in_pixels(axes)[0] / np.log(high / low)
    numbered = spread([across * np.log(r["frequency_hz"] / low) for r in inside], NUMBER_WIDTH)
    for number, r in enumerate(inside):
        place = {"transform": axes.get_xaxis_transform(), "clip_on": False}
        mark = {"marker": "v", "markersize": 10, "color": AIR_COLUMN}
        axes.plot([r["frequency_hz"]], [1.012], **mark, **place)
        words = {"ha": "center", "va": "bottom", "color": AIR_COLUMN, "fontsize": SMALL}
        if number in numbered:
            axes.text(r["frequency_hz"], 1.022, str(r["n"]), **words, **place)


def _pitch_lines(axes, document, rows, where, named):
    """Lines of equal playing frequency over the cells `where` it follows the lips."""
    heard = np.array(document["frequency_hz"], float)  # None becomes nan
    with np.errstate(invalid="ignore"):
        jump = np.abs(np.diff(np.log2(heard), axis=1)) > JUMP
    where[:, 1:] &= ~jump  # a line across a jump would stand for no pitch
    where[:, :-1] &= ~jump
    heard = np.ma.masked_where(~where, heard)
    inside = sorted((f, name) for f, name in named if heard.min() < f < heard.max())
    if not inside or min(heard.shape) < 2:
        return
    grid = document["tension_hz"], rows
    lines = axes.contour(*grid, heard, [f for f, _ in inside], colors=INK, linewidths=1.4)
    axes.clabel(lines, fmt=dict(inside), fontsize=SMALL, inline_spacing=4)


def _label_place(where, state):
    """(cells, row, column) of the widest place of a partial's largest region; None for a small
    one."""
    parts, _ = label(where)
    sizes = np.bincount(parts.ravel())[1:]
    least = max(1.0, LEAST_LABELLED * where.size)
    if sizes.max() < least:
        return None
    inside = parts == 1 + np.argmax(sizes)
    locked = inside & (state == "locked")
    if locked.sum() >= max(least, 0.15 * inside.sum()):
        inside = locked
    depth = distance_transform_edt(np.pad(inside, 1))[1:-1, 1:-1]
    rows, columns = np.nonzero(depth >= 0.9 * depth.max())
    middle = np.argmin((rows - np.median(rows)) ** 2 + (columns - np.median(columns)) ** 2)
    return sizes.max(), rows[middle], columns[middle]


def _labels(axes, places, tension, pressure):
    """Number and note of each region, the largest first; one that would cover another is left
    out."""
    kept: list = []
    for words, (_, row, column) in sorted(places.items(), key=lambda one: -one[1][0]):
        at = axes.transData.transform((tension[column], pressure[row]))
        if any((np.abs(at - other) < (LABEL_WIDTH, LABEL_HEIGHT)).all() for other in kept):
            continue
        kept.append(at)
        axes.text(tension[column], pressure[row], words, ha="center", va="center",
                  fontsize=LABEL_SIZE, fontweight="bold", linespacing=0.95,
                  path_effects=[withStroke(linewidth=6, foreground=PAPER)])  # fmt: skip


def _legend(figure, state, gliding, thresholds):
    colour = PARTIALS[2]
    known = {
        "locked": Patch(facecolor=colour, label="holds its note"),
        "bent": Patch(facecolor=paler(colour), label="lipped away from it"),
        "gliding": Patch(facecolor=paler(GLIDING), label="glides with the lips"),
        "unsteady": Patch(facecolor=UNSTEADY, hatch="//", label="rough, no clear pitch"),
        "silent": Patch(facecolor=PAPER, edgecolor=INK, label="silent"),
    }
    shown = {*state.ravel(), *(["gliding"] if gliding else [])}
    handles = [patch for name, patch in known.items() if name in shown]
    if gliding:
        handles.append(Line2D([], [], color=INK, linewidth=1.4, label="line of one pitch"))
    if thresholds:
        line = {"color": INK, "linewidth": 3.4, "label": "theory: a note can begin above"}
        handles.append(Line2D([], [], **line))
    place = {
        "loc": "lower center",
        "bbox_to_anchor": (0.5, 0.005),
        "ncols": min(len(handles), LEGEND_COLUMNS),
    }
    figure.legend(handles=handles, fontsize=SMALL, columnspacing=1.2, handlelength=1.6, **place)
