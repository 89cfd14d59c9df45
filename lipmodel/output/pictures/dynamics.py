"""A note from soft to loud: level, middle of the spectrum and harmonics against the breath."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, BREATH, INK, SOUND
from lipmodel.output.pictures.style import CURVES, SMALL, new_figure, styled

DRAWN = (1, 2, 3, 5, 8, 12)  # harmonics
LOWEST = -60.0  # dB under the strongest harmonic: drawn no further


@styled
def dynamics_figure(title: str, document: dict):
    """A matplotlib `Figure` of `dynamics.dynamics`: three panels over the mouth pressure in kPa,
    with the markings pp to ff of the note along the top."""
    figure = new_figure(title)
    grid = figure.add_gridspec(
        3, 1, height_ratios=(1, 1, 1.5), hspace=0.16, left=0.1, right=0.87, top=0.89, bottom=0.08
    )
    pressure = np.array([r["mouth_pressure_kpa"] for r in document["rows"]])
    panels = [figure.add_subplot(cell) for cell in grid]
    words = ("Level in dB\nat the listener", "Spectral centroid\nin Hz")
    for axes, key, label in zip(panels, ("level_db", "centroid_hz"), words, strict=False):
        for name, color, dashes, curve in (
            ("linear", AIR_COLUMN, (0, (6, 2)), "without steepening"),
            ("heard", SOUND, "-", "as heard"),
        ):
            values = [r[name][key] for r in document["rows"]]
            axes.plot(pressure, values, color=color, linestyle=dashes, linewidth=3.5, label=curve)
        axes.set_ylabel(label)
    panels[1].legend(loc="upper left", handlelength=2.2)
    _harmonics(panels[2], pressure, document["rows"])
    for axes in panels:
        _markings(axes, document["markings_kpa"], pressure, axes is panels[0])
        axes.set_xlim(pressure.min(), pressure.max())
        if axes is not panels[2]:
            axes.tick_params(labelbottom=False)
    panels[2].set_xlabel("Breath in kPa")
    return figure


def _harmonics(axes, pressure, rows):
    levels = np.array([r["heard"]["harmonics_db"] for r in rows])
    top = levels.max()
    looks = (*CURVES, (AIR_COLUMN, "-"), (INK, (0, (1, 1))))
    for number, (color, dashes) in zip(DRAWN, looks, strict=True):
        if number <= levels.shape[1]:
            line = np.where(levels[:, number - 1] > top + LOWEST, levels[:, number - 1], np.nan)
            axes.plot(pressure, line, color=color, linestyle=dashes, linewidth=3, label=str(number))
    axes.set_ylim(top + LOWEST, top + 3)
    axes.set_ylabel("Harmonics in dB\nas heard")
    axes.legend(title="harmonic", title_fontsize=SMALL, loc="upper left",
                bbox_to_anchor=(1.01, 1.0), handlelength=2.6)  # fmt: skip


def _markings(axes, markings, pressure, named):
    for name, at in markings.items():
        if not pressure.min() <= at <= pressure.max():
            continue
        axes.axvline(at, color=BREATH, linewidth=1.6, zorder=0)
        if named:
            axes.text(at, 1.02, name, transform=axes.get_xaxis_transform(), ha="center",
                      va="bottom", fontsize=SMALL, color=BREATH, fontstyle="italic")  # fmt: skip
