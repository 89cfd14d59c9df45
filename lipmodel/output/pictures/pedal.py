"""The pedal note: no resonance holds it, but its harmonics fall on those above."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, PLUM, SOUND
from lipmodel.output.pictures.style import SMALL, new_figure, shown, styled

TEXT_SHARE = 0.1  # of the height, above the curve
LIMIT = 150.0  # cents, of the lower picture


@styled
def pedal_figure(title: str, pedal: dict):
    """A matplotlib `Figure` of `pairing.pedal_numbers`: impedance with resonances and
    harmonics, and how far each harmonic is from the nearest resonance."""
    figure = new_figure(title)
    grid = figure.add_gridspec(
        2, 1, height_ratios=(2, 1), hspace=0.28, left=0.085, right=0.97, top=0.90, bottom=0.13
    )
    _curve(figure.add_subplot(grid[0]), pedal)
    _distances(figure.add_subplot(grid[1]), pedal)
    figure.text(0.5, 0.02, shown(pedal["sentences"][0], 140), ha="center", fontsize=SMALL)
    return figure


def _curve(axes, pedal):
    frequency, size = np.asarray(pedal["curve_hz"]), np.asarray(pedal["curve"]) / 1e6
    note, harmonics = pedal["frequency_hz"], np.asarray(pedal["impedance"]) / 1e6
    n = np.arange(1, len(harmonics) + 1)
    top = size.max()
    axes.plot(frequency, size, color=AIR_COLUMN, linewidth=3, label="air column")
    axes.vlines(n * note, 0, harmonics, SOUND, linewidth=4)
    axes.plot(n * note, harmonics, "o", color=SOUND, ms=11, label="harmonics of the pedal note")
    for resonance in pedal["resonances"]:
        if resonance["frequency_hz"] < frequency[-1]:
            axes.annotate(
                str(resonance["n"]),
                (resonance["frequency_hz"], resonance["magnitude_pa_s_m3"] / 1e6),
                xytext=(0, 8), textcoords="offset points", ha="center", color=AIR_COLUMN,
                fontsize=SMALL + 2, fontweight="bold",
            )  # fmt: skip
    first = pedal["resonances"][0]["frequency_hz"]
    axes.annotate(
        f"the note: {note:.1f} Hz\nfirst resonance: {first:.1f} Hz",
        (note, harmonics[0]), xytext=(note, (1 + TEXT_SHARE) * top), color=SOUND,
        fontsize=SMALL, ha="left", va="bottom", arrowprops={"arrowstyle": "->", "color": SOUND},
    )  # fmt: skip
    axes.set_ylim(0, (1 + 3 * TEXT_SHARE) * top)
    axes.set_xlim(0, frequency[-1])
    axes.set_ylabel("Input impedance in MPa s/m³\n(numbers: resonances)")
    axes.legend(loc="upper right")


def _distances(axes, pedal):
    rows = pedal["support"]
    n = [row["harmonic"] for row in rows]
    off = np.clip([row["cents"] for row in rows], -LIMIT, LIMIT)
    colours = [SOUND if row["supports"] else PLUM for row in rows]
    axes.bar(n, off, 0.5, color=colours)
    for row, height in zip(rows, off, strict=True):
        side = 5 if height >= 0 else -5
        axes.annotate(
            f"{row['cents']:+.0f}", (row["harmonic"], height), xytext=(0, side),
            textcoords="offset points", ha="center", va="bottom" if height >= 0 else "top",
            fontsize=SMALL,
        )  # fmt: skip
    axes.axhline(0, color=AIR_COLUMN, linewidth=1.5)
    axes.set_ylim(-LIMIT * 1.3, LIMIT * 1.3)
    axes.set_xticks(n)
    axes.set_xlabel("Harmonic of the note (blue: a resonance within 40 cents supports it)")
    axes.set_ylabel("Nearest resonance,\ncents from harmonic")
