"""Several sounds over each other: their harmonics, their pitch, and how each begins."""

import numpy as np

from lipmodel.output.pictures.colours import GRID, INK
from lipmodel.output.pictures.style import CURVES, SMALL, new_figure, shown, styled

FLOOR = -70.0  # dB
LEAST_SPAN = 20.0  # cents to either side
MOST_SPAN = 1300.0
SHARE_SEEN = 95.0  # percent of the cents drawn: jumps may leave the picture
LONGEST = 24  # letters of a name in the legend
MARKS = "osD^vPX*"


@styled
def compare_figure(title: str, names, curves):
    """A matplotlib `Figure`; `names` and `curves` (as `beside.curves` makes) of each sound."""
    figure = new_figure(f"{title}: compared")
    grid = figure.add_gridspec(
        2, 2, height_ratios=(1.15, 1), hspace=0.55, wspace=0.24,
        left=0.085, right=0.975, top=0.83, bottom=0.085,
    )  # fmt: skip
    spectra = figure.add_subplot(grid[0, :])
    pitch, attack = figure.add_subplot(grid[1, 0]), figure.add_subplot(grid[1, 1])
    for number, curve in enumerate(curves):
        _one(spectra, pitch, attack, curve, number)
    _frame_spectra(spectra, curves)
    _frame_pitch(pitch, curves)
    attack.set_xlabel("Time from the start in ms")
    attack.set_ylabel("Level (1 is full scale)")
    attack.set_title("How each begins", loc="left")
    attack.set_ylim(0, None)
    lines = attack.get_lines()
    labels = [shown(f"{n}. {name}", LONGEST) for n, name in enumerate(names, 1)]
    figure.legend(lines, labels, loc="upper center", bbox_to_anchor=(0.5, 0.945),
                  ncols=min(4, len(lines)), fontsize=SMALL)  # fmt: skip
    return figure


def look(number: int) -> dict:
    """Colour and dashes of one of the sounds; the colours come again with other marks."""
    colour, dashes = CURVES[number % len(CURVES)]
    return {"color": colour, "linestyle": dashes, "linewidth": 3.5 if number < len(CURVES) else 2}


def _one(spectra, pitch, attack, curve, number):
    style = look(number)
    if curve["harmonics_db"] is not None:
        n = np.arange(1, len(curve["harmonics_db"]) + 1)
        spectra.plot(n, curve["harmonics_db"], marker=MARKS[number % len(MARKS)], ms=9, **style)
    elif curve["spectrum_hz"] is not None:
        spectra.plot(curve["spectrum_hz"], curve["spectrum_db"], **style)
    if curve["cents"] is not None:
        pitch.plot(*curve["cents"], **style)
    attack.plot(1e3 * curve["attack_s"], curve["attack"], **style)


def _frame_spectra(axes, curves):
    known = [c["harmonics_db"] for c in curves if c["harmonics_db"] is not None]
    if known:
        top = max(map(max, known))
        axes.set_ylim(max(min(map(min, known)), top + FLOOR) - 3, top + 5)
        axes.set_xlabel("Harmonic")
        axes.set_xticks(np.arange(1, max(map(len, known)) + 1))
        axes.set_title("The sound in harmonics, all equally loud", loc="left")
    else:
        top = max(max(c["spectrum_db"]) for c in curves)
        axes.set_ylim(top + FLOOR, top + 5)
        axes.set_xscale("log")
        axes.set_xticks([50, 100, 200, 500, 1000, 2000, 5000])
        axes.set_xticklabels(["50", "100", "200", "500", "1000", "2000", "5000"])
        axes.minorticks_off()
        axes.set_xlabel("Frequency in Hz")
        axes.set_title("The spectrum, all equally loud", loc="left")
    axes.set_ylabel("Level in dB")
    axes.grid(axis="y", color=GRID)


def _frame_pitch(axes, curves):
    axes.set_title("Pitch, beside the first", loc="left")
    off = [np.asarray(c["cents"][1]) for c in curves if c["cents"] is not None]
    heard = np.abs(np.concatenate([o[np.isfinite(o)] for o in off])) if off else np.zeros(0)
    if not len(heard):
        axes.text(0.5, 0.5, "no pitch to compare", ha="center", va="center", color=INK,
                  transform=axes.transAxes)  # fmt: skip
        axes.set_axis_off()
        return
    span = float(np.clip(1.25 * np.percentile(heard, SHARE_SEEN), LEAST_SPAN, MOST_SPAN))
    axes.set_ylim(-span, span)
    axes.set_xlabel("Time in s")
    axes.set_ylabel("Cents (up: sharper)")
    axes.grid(axis="y", color=GRID)
