"""The standing wave along the tube: pressure and motion of each partial, node by node."""

import numpy as np
from matplotlib.lines import Line2D

from lipmodel.output.pictures.colours import AIR_COLUMN, INK, OVER, SOUND
from lipmodel.output.pictures.style import SMALL, TEXT, draw_bore, new_figure, styled

LEFT, WIDTH = 0.115, 0.865
BORE_HEIGHT = 0.14
SHORT = 0.15  # m from the lips, to which an antinode's words do not fit


@styled
def field_figure(title: str, field: dict):
    """A matplotlib `Figure` of `standing.standing`: a row a partial, the played one marked, over
    the bore to scale."""
    figure = new_figure(title)
    rows = field["partials"]
    bottom, top = 0.30, 0.915
    height = (top - bottom) / max(len(rows), 1)
    length = field["x_m"][-1]
    for i, partial in enumerate(rows):
        axes = figure.add_axes((LEFT, top - (i + 1) * height + 0.012, WIDTH, height - 0.02))
        _partial(axes, field, partial, length)
    _bore(figure.add_axes((LEFT, 0.13, WIDTH, BORE_HEIGHT)), field, length)
    _legend(figure)
    return figure


def _partial(axes, field, partial, length):
    x = 100 * np.asarray(field["x_m"])
    played = partial["n"] == field["played"]["partial"]
    pressure, flow = np.asarray(partial["pressure"]), np.asarray(partial["flow"])
    axes.fill_between(x, -pressure, pressure, color=OVER, alpha=0.3 if played else 0.16, lw=0)
    for side in (-1, 1):
        axes.plot(x, side * pressure, color=OVER, linewidth=4 if played else 2.2)
        axes.plot(x, side * flow, color=INK, linewidth=3 if played else 1.8, linestyle=(0, (5, 2)))
    axes.axhline(0, color=AIR_COLUMN, linewidth=1)
    nodes = 100 * np.asarray(partial["pressure_nodes_m"])
    antinodes = 100 * np.asarray(partial["pressure_antinodes_m"])
    axes.plot(nodes, 0 * nodes, "o", color=OVER, ms=13, mfc="white", mew=3, clip_on=False)
    axes.plot(antinodes, 0 * antinodes, "s", color=INK, ms=11, clip_on=False)
    axes.set_xlim(0, 100 * length)
    axes.set_ylim(-1.08, 1.08)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(False)
    axes.spines["left"].set_visible(played)
    if played:
        axes.spines["left"].set_linewidth(6)
        axes.spines["left"].set_color(SOUND)
    words = f"{partial['n']}"
    axes.text(
        -0.075, 0.60, words, transform=axes.transAxes, fontsize=TEXT + 8, fontweight="bold",
        ha="center", va="center", color=SOUND if played else INK,
    )  # fmt: skip
    note = f"{partial['frequency_hz']:.0f} Hz" + ("\nplayed" if played else "")
    axes.text(
        -0.075, 0.34, note, transform=axes.transAxes, fontsize=SMALL, ha="center", va="top",
        color=SOUND if played else INK,
    )  # fmt: skip


def _bore(axes, field, length):
    x, r = 100 * np.asarray(field["x_m"]), 100 * np.asarray(field["radius_m"])
    draw_bore(axes, x, r)
    for partial in field["partials"]:
        if partial["n"] == field["played"]["partial"]:
            for node in partial["pressure_nodes_m"]:
                axes.axvline(100 * node, color=OVER, linewidth=2, linestyle=(0, (2, 2)))
    axes.set_xlim(0, 100 * length)
    # centimetres are equally long both ways
    width, height = axes.figure.get_size_inches()
    tall = 100 * length * BORE_HEIGHT * height / (WIDTH * width)
    axes.set_ylim(-tall / 2, tall / 2)
    axes.set_yticks([])
    for edge in ("left", "right", "top"):
        axes.spines[edge].set_visible(False)
    axes.set_xlabel("cm from the lips (bore to scale)")


def _legend(figure):
    kinds = (
        (OVER, "-", "", "pressure swings this far"),
        (INK, (0, (5, 2)), "", "air moves this far (flow)"),
        (OVER, "none", "o", "node of pressure: the air moves most"),
        (INK, "none", "s", "node of motion: pressure swings most"),
    )
    handles = []
    for colour, dashes, marker, words in kinds:
        face, edge = ("white", 3) if marker == "o" else (colour, 1)
        line = {"color": colour, "linestyle": dashes, "linewidth": 4, "marker": marker}
        dot = {"ms": 12, "mfc": face, "mew": edge}
        handles.append(Line2D([], [], **line, **dot, label=words))
    figure.legend(handles=handles, loc="lower center", ncols=2, fontsize=SMALL, handlelength=2.6)
