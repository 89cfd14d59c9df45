"""Bores side by side: their shapes, and where their resonances lie."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, INK, SOUND
from lipmodel.output.pictures.style import SMALL, new_figure, shown, styled
from lipmodel.units import A4_SEMITONE, note_name

MOST_MULTIPLES = 17.5
LONGEST_NAME = 26
LEGEND = (
    "Widths of the tubes exaggerated. Dashed: odd multiples, a closed cylinder's. "
    "Solid: even ones, a whole cone's."
)
HEAD = 1.5  # inches for the title and the notes
SHAPE_HEIGHT = 0.78  # of a row, for the widest bore


@styled
def bores_figure(title: str, family: dict, a4=440.0, spelling="flats"):
    """A matplotlib `Figure` of `family.family`: one row a bore, from the top down.

    Left the shapes (diameters exaggerated), right the resonances as multiples of c/(4 L) and,
    along the top, as notes; under each row the ratios to its first resonance.
    """
    members = family["members"]
    height = max(7.0, 2.6 + 1.35 * len(members))
    figure = new_figure(title, size=(16.0, height))
    top = 1 - HEAD / height
    grid = figure.add_gridspec(
        1, 2, width_ratios=(1, 2.3), wspace=0.03, left=0.03, right=0.975, top=top, bottom=0.15
    )
    _shapes(figure.add_subplot(grid[0]), members)
    _resonances(figure.add_subplot(grid[1]), family, a4, spelling)
    figure.text(0.5, 0.012, LEGEND, ha="center", fontsize=SMALL)
    return figure


def _shapes(axes, members):
    widest = max(max(m["radius_m"]) for m in members)
    for row, member in enumerate(members):
        x = np.asarray(member["x_m"])
        half = 0.5 * SHAPE_HEIGHT * np.asarray(member["radius_m"]) / widest
        axes.fill_between(x, row - half, row + half, color=AIR_COLUMN, linewidth=0)
        axes.text(0, row - 0.2, shown(member["name"], LONGEST_NAME), fontsize=SMALL, va="bottom")
    _rows(axes, members)
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("Length in m")


def _resonances(axes, family, a4, spelling):
    quarter, members = family["quarter_wave_hz"], family["members"]
    top = min(MOST_MULTIPLES, max(max(m["multiples"], default=1) for m in members) + 0.5)
    for odd in range(1, int(top) + 1, 2):
        axes.axvline(odd, color=AIR_COLUMN, linewidth=1, linestyle=(0, (2, 4)))
    for even in range(2, int(top) + 1, 2):
        axes.axvline(even, color=AIR_COLUMN, linewidth=1)
    columns = max(len(m["multiples"]) for m in members)
    for n in range(columns):
        line = [(m["multiples"][n], r) for r, m in enumerate(members) if n < len(m["multiples"])]
        axes.plot(*zip(*line, strict=True), color=SOUND, linewidth=1.2, alpha=0.5)
    for row, member in enumerate(members):
        inside = [m for m in member["multiples"] if m <= top]
        axes.plot(inside, [row] * len(inside), "o", color=SOUND, ms=13, clip_on=False)
        for n, multiple in enumerate(inside, 1):
            axes.annotate(
                str(n), (multiple, row), color="white", fontsize=SMALL - 5, ha="center",
                va="center", fontweight="bold",
            )  # fmt: skip
        ratios = " : ".join(f"{r:.2f}" for r in member["ratios"])
        axes.text(
            0.1, row + 0.4, f"to its first:  {ratios}", fontsize=SMALL - 2, color=INK, va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1},
        )  # fmt: skip
    axes.set_xlim(0, top)
    _rows(axes, members)
    axes.set_xticks(range(1, int(top) + 1))
    axes.set_xlabel(f"Resonances in multiples of c/4L = {quarter:.1f} Hz")
    _notes(axes, quarter, top, a4, spelling)


def _rows(axes, members):
    axes.set_ylim(len(members) - 0.4, -0.6)
    axes.set_yticks([])


def _notes(axes, quarter, top, a4, spelling):
    """Note names along the upper edge, sounding: every C, E flat, F sharp and A that has room."""
    above = axes.secondary_xaxis("top")
    low = int(np.ceil(A4_SEMITONE + 12 * np.log2(quarter / a4)))
    high = int(A4_SEMITONE + 12 * np.log2(top * quarter / a4))
    places, names, last = [], [], -1.0
    for semitone in range(low, high + 1):
        place = a4 * 2 ** ((semitone - A4_SEMITONE) / 12) / quarter
        if semitone % 3 == 0 and place - last > top / 22:
            places.append(place)
            names.append(note_name(semitone, spelling))
            last = place
    above.set_xticks(places, names)
    above.set_xlabel("Sounding note")
