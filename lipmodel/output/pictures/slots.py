"""The staircase: playing frequency against lip setting, up and down, with the slots shaded."""

import numpy as np
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from lipmodel.output.pictures.colours import AIR_COLUMN, LIPS, PLUM, SOUND
from lipmodel.output.pictures.style import SMALL, new_figure, styled
from lipmodel.units import nearest_note, note_name

TICKS_HZ = (60, 80, 100, 150, 200, 300, 400, 500, 600, 800, 1000, 1200, 1500)


@styled
def slots_figure(title, document, resonances, column, transposition=0, a4=440.0):
    """Picture of `lipmodel slots`, a matplotlib `Figure`.

    `document` is the JSON of the command, `resonances` are (n, Hz), `column` the impedance as
    (frequency Hz, |Z| Pa s/m3); `transposition` semitones from written to sounding.
    """
    figure = new_figure(f"{title}: where notes hold")
    grid = figure.add_gridspec(
        1, 2, width_ratios=(4.6, 1), wspace=0.03, left=0.085, right=0.98, top=0.90, bottom=0.11
    )
    stairs = figure.add_subplot(grid[0])
    side = figure.add_subplot(grid[1], sharey=stairs)
    _draw_stairs(stairs, document)
    _draw_resonances(stairs, side, resonances, transposition, a4)
    _draw_column(side, column)
    _name_slots(stairs, document, transposition, a4)
    stairs.legend(loc="upper left", reverse=False)
    return figure


def _draw_stairs(axes, document):
    sweeps = document["sweep"]
    settings = np.array(sweeps["up"]["tension_hz"] + sweeps["down"]["tension_hz"], float)
    heard = np.array(sweeps["up"]["frequency_hz"] + sweeps["down"]["frequency_hz"], float)
    low, high = settings.min(), settings.max()
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(low, high)
    axes.set_ylim(min(np.nanmin(heard), low) / 1.06, max(np.nanmax(heard), high) * 1.1)
    axes.plot([low, high], [low, high], color=LIPS, linewidth=1.6, label="the lips alone")
    for row in document["up"]:
        axes.axvspan(row["tension_from_hz"], row["tension_to_hz"], color=SOUND, alpha=0.10, lw=0)
    for way, colour, dashes, words in (
        ("up", SOUND, "-", "lips tightening"),
        ("down", PLUM, (0, (5, 1.5)), "lips loosening"),
    ):
        setting = np.array(sweeps[way]["tension_hz"], float)
        pitch = np.array(sweeps[way]["frequency_hz"], float)
        axes.plot(setting, pitch, color=colour, linestyle=dashes, linewidth=4, label=words)
    axes.set_xlabel("Lip setting in Hz (not the note)")
    axes.set_ylabel("Playing frequency in Hz")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(FixedLocator(TICKS_HZ))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axis.set_minor_locator(NullLocator())


def _draw_resonances(stairs, side, resonances, transposition, a4):
    low, high = stairs.get_ylim()
    for n, frequency in resonances:
        if not low < frequency < high:
            continue
        for axes in (stairs, side):
            axes.axhline(
                frequency, color=AIR_COLUMN, linewidth=1.2, linestyle=(0, (1, 2)), zorder=1
            )
        semitone, _ = nearest_note(frequency, a4)
        side.text(
            0.98, frequency, f"{n}  {note_name(semitone - transposition)}", fontsize=SMALL,
            transform=side.get_yaxis_transform(), ha="right", va="bottom", backgroundcolor="none",
        )  # fmt: skip


def _draw_column(axes, column):
    frequency, size = column
    axes.plot(size / 1e6, frequency, color=AIR_COLUMN, linewidth=2)
    axes.set_xlim(0, 1.6 * np.max(size) / 1e6)
    axes.set_xlabel("Air column: |Z|\nin MPa·s/m³")
    axes.tick_params(labelleft=False)


def _name_slots(axes, document, transposition, a4):
    """Under each slot of the way up the written note and its lock."""
    for row in document["up"]:
        semitone, _ = nearest_note(row["playing_hz"], a4)
        axes.text(
            row["centre_tension_hz"], 0.015,
            f"{note_name(semitone - transposition)}\nlock\n{row['lock']:.2f}",
            transform=axes.get_xaxis_transform(), ha="center", va="bottom", fontsize=SMALL,
            color=SOUND, fontweight="bold",
        )  # fmt: skip
