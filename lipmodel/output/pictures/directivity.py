"""What goes where: the sound around the bell at six pitches, as seen from above."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, INK, PAPER
from lipmodel.output.pictures.style import CURVES, SMALL, TEXT, new_figure, styled

LOWEST, HIGHEST = -25.0, 18.0  # dB
MORE = ((AIR_COLUMN, (0, (1, 1))), (INK, (0, (1, 2.5))))
PLACES = ((0, "before the bell"), (90, "beside"), (150, "the row behind"))


@styled
def directivity_figure(title: str, document: dict):
    """A matplotlib `Figure` of `studies.directivity.directivity`: dB over a source of the same
    power that sends out alike to all sides, against the angle from the bell's axis."""
    figure = new_figure(title)
    axes = figure.add_axes((0.04, 0.07, 0.62, 0.8), projection="polar")
    half = np.radians(document["angle_deg"])
    around = np.concatenate([half, 2 * np.pi - half[::-1]])
    for row, (colour, dashes) in zip(document["rows"], (*CURVES, *MORE), strict=False):
        level = np.maximum(row["level_db"], LOWEST)
        axes.plot(
            around, np.concatenate([level, level[::-1]]), color=colour, linestyle=dashes,
            linewidth=3.5, label=f"{row['frequency_hz']:.0f} Hz ({row['written']} written)",
        )  # fmt: skip
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    axes.set_ylim(LOWEST, HIGHEST)
    axes.set_yticks([-20, -10, 0, 10], ["−20", "−10", "0", "+10 dB"])
    axes.set_rlabel_position(285)
    marks = {degrees: f"{degrees}°" for degrees in range(0, 360, 30)}
    axes.set_xticks(np.radians(list(marks)), marks.values())
    for degrees, name in PLACES:
        axes.plot(np.radians(degrees), HIGHEST - 3, "o", color=INK, ms=9, clip_on=False)
        axes.annotate(
            name, (np.radians(degrees), HIGHEST - 3), fontsize=SMALL, color=INK,
            xytext=(-10, -7), textcoords="offset points", ha="right",
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
    figure.legend(loc="upper left", bbox_to_anchor=(0.67, 0.8), handlelength=3.2)
    figure.text(
        0.68, 0.4,
        "Seen from above, the bell\nin the middle, its axis\nupwards. 0 dB: a source of\nthe same "
        "power that sends\nout alike to all sides.",
        fontsize=TEXT, va="top",
    )  # fmt: skip
    return figure
