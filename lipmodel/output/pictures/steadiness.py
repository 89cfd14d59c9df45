"""A held note's pitch beside the lips and the breath that shook."""

import numpy as np

from lipmodel.output.pictures.colours import BREATH, INK, LIPS, SOUND
from lipmodel.output.pictures.style import SMALL, new_figure, styled

SIGMAS = 3.5  # of the drift asked for: so far reaches the axis, alike for all takes of a scene
LEAST = 5.0  # cents


@styled
def steadiness_figure(title: str, document: dict):
    """A matplotlib `Figure` of `studies.steadiness.steadiness`: lip setting and pitch in cents on
    one axis against time, and the breath in % on its own below."""
    figure = new_figure(title)
    grid = figure.add_gridspec(
        2, 1, height_ratios=(2.4, 1), hspace=0.12, left=0.1, right=0.96, top=0.89, bottom=0.08
    )
    axes, below = (figure.add_subplot(cell) for cell in grid)
    time, row = np.array(document["time_s"]), document["row"]
    for key, color, width, what in (
        ("lip_cents", LIPS, 2.2, "lip setting"),
        ("pitch_cents", SOUND, 4.0, "pitch"),
    ):
        label = f"{what}: {row[key]:.1f} cents rms"
        dashes = (0, (4, 1.5)) if key == "lip_cents" else "-"
        axes.plot(time, document[key], color=color, linestyle=dashes, linewidth=width, label=label)
    reach = max(SIGMAS * document["drift_cents"], LEAST)
    axes.set_ylim(*_reach(reach, document["lip_cents"], document["pitch_cents"]))
    axes.set_ylabel("Cents around the mean")
    axes.tick_params(labelbottom=False)
    told = f"breath: {row['breath_percent']:.1f} % rms (level: {row['level_db']:.2f} dB)"
    below.plot(time, document["breath_percent"], color=BREATH, linewidth=2.2, label=told)
    least = max(SIGMAS * document["drift_percent"], 1.0)
    below.set_ylim(*_reach(least, document["breath_percent"]))
    below.set_ylabel("Breath in %\naround the mean")
    below.set_xlabel("Time in s")
    for each in (axes, below):
        each.axhline(0, color=INK, linewidth=0.8, zorder=0)
        each.set_xlim(time[0], time[-1])
        each.legend(loc="upper right", fontsize=SMALL, ncols=2)
    return figure


def _reach(least, *tracks) -> tuple[float, float]:
    most = max([least, *(1.1 * np.max(np.abs(track)) for track in tracks)])
    return -most, most
