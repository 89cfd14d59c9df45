"""Two takes of one pitch: resonances and harmonics, spectra, and the lips at work."""

import numpy as np

from lipmodel.analysis.lock import shown as lock_shown
from lipmodel.output.pictures.colours import AIR_COLUMN, PLUM, SOUND
from lipmodel.output.pictures.style import SMALL, new_figure, styled

COLOURS = (SOUND, PLUM)
DASHES = ("-", (0, (6, 2)))
FLOOR = -60.0  # dB
HARMONICS_SEEN = 4.6
LONGEST = 11  # letters of a name over the table


@styled
def pair_figure(title: str, names, portraits, caption: str):
    """A matplotlib `Figure`; `names` of both takes, `portraits` as `pairing.portrait` makes."""
    figure = new_figure(title)
    grid = figure.add_gridspec(
        3, 2, height_ratios=(1.15, 1, 1), hspace=0.55, wspace=0.16,
        left=0.085, right=0.925, top=0.90, bottom=0.115,
    )  # fmt: skip
    for column, (name, portrait) in enumerate(zip(names, portraits, strict=True)):
        _column_and_harmonics(figure.add_subplot(grid[0, column]), name, portrait, column)
        _waves(figure.add_subplot(grid[1, column]), portrait, column)
    _spectra(figure.add_subplot(grid[2, 0]), names, portraits)
    _figures(figure.add_subplot(grid[2, 1]), names, portraits)
    figure.text(0.5, 0.018, caption, ha="center", fontsize=SMALL)
    return figure


def _column_and_harmonics(axes, name, portrait, column):
    colour = COLOURS[column]
    axes.plot(portrait["curve_hz"], portrait["curve"] / 1e6, color=AIR_COLUMN, linewidth=2)
    n = np.arange(1, len(portrait["impedance"]) + 1)
    axes.vlines(n * portrait["frequency_hz"], 0, portrait["impedance"] / 1e6, colour, linewidth=4)
    axes.plot(n * portrait["frequency_hz"], portrait["impedance"] / 1e6, "o", color=colour, ms=9)
    axes.set_ylim(0, None)
    axes.set_xlim(0, HARMONICS_SEEN * portrait["frequency_hz"])
    axes.set_title(f"{name}: {portrait['written']}, {portrait['state']}", fontsize=SMALL + 2)
    axes.set_xlabel("Frequency in Hz (dots: harmonics)")
    if not column:
        axes.set_ylabel("|Z| in MPa·s/m³")


def _waves(axes, portrait, column):
    colour = COLOURS[column]
    time = 1e3 * portrait["time_s"]
    axes.plot(time, portrait["pressure_pa"] / 1e3, color=colour, linewidth=3)
    axes.set_xlabel("Time in ms")
    if not column:
        axes.set_ylabel("Mouthpiece\npressure in kPa")
    lips = axes.twinx()
    lips.spines["right"].set_visible(True)
    lips.plot(time, 1e6 * portrait["opening_m2"], color=AIR_COLUMN, linestyle=(0, (4, 2)), lw=2.5)
    if column:
        lips.set_ylabel("Lip opening\nin mm² (dashed)")


def _spectra(axes, names, portraits):
    top = max(np.max(p["outside_pa"]) for p in portraits)
    for i, (name, p) in enumerate(zip(names, portraits, strict=True)):
        n = np.arange(1, len(p["outside_pa"]) + 1)
        level = np.maximum(20 * np.log10(np.maximum(p["outside_pa"] / top, 1e-9)), FLOOR)
        axes.bar(n + 0.36 * (i - 0.5), level - FLOOR, 0.34, FLOOR, color=COLOURS[i], label=name)
    axes.set_xlabel("Harmonic")
    axes.set_ylabel("Sound in dB\n(same breath)")
    axes.set_xticks(n)
    axes.set_ylim(FLOOR, 22)
    axes.legend(loc="upper center", ncols=2)


def _figures(axes, names, portraits):
    axes.axis("off")
    rows = (
        ("lock", "{lock}"),
        ("sound at the listener", "{level_db:.1f} dB"),
        ("centroid of the sound", "{centroid_hz:.0f} Hz"),
        ("harmonics on resonances", "{alignment:.0%}"),
        ("blowing", "{blown_w:.2f} W"),
        ("in the mouthpiece", "{mouthpiece_rms_pa:.0f} Pa"),
    )
    texts = [
        [words, *(form.format(**p | {"lock": _lock(p["lock"])}) for p in portraits)]
        for words, form in rows
    ]
    table = axes.table(
        texts, colLabels=["", *names], loc="center", cellLoc="right", colWidths=(0.46, 0.27, 0.27)
    )
    table.auto_set_font_size(False)
    table.set_fontsize(SMALL)
    table.scale(1, 2.1)
    for (row, column), cell in table.get_celld().items():
        cell.set_edgecolor("none" if row else AIR_COLUMN)
        cell.visible_edges = "B" if not row else ""
        if row == 0 and column:
            cell.get_text().set_color(COLOURS[column - 1])
            cell.get_text().set_fontweight("bold")
            label = cell.get_text().get_text()
            cell.get_text().set_text(label if len(label) <= LONGEST else label[:LONGEST] + "…")


def _lock(value) -> str:
    return "–" if value is None else lock_shown(value)
