"""One click into the horn: what comes back, when, and from where."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, SOUND
from lipmodel.output.pictures.style import (
    CURVES,
    SMALL,
    draw_bore,
    new_figure,
    shown,
    size_in_pixels,
    styled,
)

EARLY = 1.2e-3  # s: what returns before runs off the picture
HEADROOM = 1.25
LABEL_GAP = 58.0  # px between two slanting names
NUMBER_GAP = 26.0  # px between two numbers
APART = 0.1e-3  # s: partials that come back within this come from one place
LONGEST_NAME = 22
LINES = (CURVES[0], CURVES[3], CURVES[2])  # the colour between them is that of the partials


@styled
def echo_figure(title: str, echo: dict):
    """A matplotlib `Figure` of `echoes.echoes`: the answer to a click in % of its height, and
    under it the bore, drawn over the time that an echo from each place takes."""
    figure = new_figure(title)
    if _drawn_out(echo["returns"]):
        figure.text(0.535, 0.915, "A bell is not a place: its echo is drawn out", ha="center")
    above = figure.add_axes((0.095, 0.47, 0.88, 0.42))
    below = figure.add_axes((0.095, 0.10, 0.88, 0.30))
    top = _answers(above, echo)
    _bore(below, echo, top)
    return figure


def _drawn_out(rows) -> bool:
    return len(rows) > 1 and rows[-1]["time_s"] - rows[0]["time_s"] > APART


def _early_samples(echo) -> int:
    """Samples that may run off the picture; of a very short tube fewer."""
    return int(min(EARLY * echo["rate_hz"], 0.3 * len(echo["members"][0]["response"])))


def _answers(axes, echo) -> float:
    rate = echo["rate_hz"]
    top = 1e3 * len(echo["members"][0]["response"]) / rate
    tallest = 0.0
    for member, (colour, dashes) in zip(echo["members"], LINES, strict=False):
        response = 100 * np.asarray(member["response"])
        time = 1e3 * np.arange(len(response)) / rate
        tallest = max(tallest, np.abs(response[_early_samples(echo) :]).max())
        axes.plot(
            time, response, color=colour, linestyle=dashes, linewidth=3,
            label=shown(member["name"], LONGEST_NAME),
        )  # fmt: skip
    axes.axhline(0, color=AIR_COLUMN, linewidth=1)
    axes.set_ylim(-HEADROOM * tallest, HEADROOM * tallest)
    axes.set_xlim(0, top)
    rows = echo["returns"]
    for row in rows if _drawn_out(rows) else rows[:1]:
        axes.axvline(1e3 * row["time_s"], color=AIR_COLUMN, linewidth=1.6, linestyle=(0, (2, 3)))
    axes.set_ylabel("Pressure that comes back,\n% of the click")
    if len(echo["members"]) > 1:
        axes.legend(loc="lower left", bbox_to_anchor=(0.12, 0.0), handlelength=3.2)
    axes.set_xticklabels([])
    _early(axes, echo, tallest)
    return top


def _early(axes, echo, tallest):
    response = np.asarray(echo["members"][0]["response"])
    early = response[: _early_samples(echo)]
    size = 100 * early[np.argmax(np.abs(early))]
    if abs(size) > HEADROOM * tallest:
        axes.annotate(
            f"from the cup: {size:+.0f} %", (0, HEADROOM * tallest), xytext=(26, -4),
            textcoords="offset points", va="top", fontsize=SMALL, color=SOUND,
        )  # fmt: skip


def _bore(axes, echo, top):
    time, radius = 1e3 * np.asarray(echo["way_s"]), 100 * np.asarray(echo["radius_m"])
    draw_bore(axes, time, radius)
    tall = max(radius.max(), 1.0)
    axes.set_xlim(0, top)
    axes.set_ylim(-1.15 * tall, 2.2 * tall)
    _marks(axes, echo, (time, radius, tall), top)
    _returns(axes, echo, (time, radius, tall), top)
    axes.set_yticks([])
    for edge in ("left", "right", "top"):
        axes.spines[edge].set_visible(False)
    axes.set_xlabel("Milliseconds after the click; the bore over the time its echo takes")


def _marks(axes, echo, shape, top):
    """Names of the places that send something back, each on a line to its place."""
    time, radius, tall = shape
    last = -np.inf
    for mark in echo["marks"]:
        at = 1e3 * mark["time_s"]
        last = max(at, last + LABEL_GAP * top / size_in_pixels(axes)[0])
        ends = [np.interp(at, time, radius), 0.85 * tall, 1.02 * tall]
        axes.plot([at, at, last], ends, color=SOUND, linewidth=1.6)
        axes.text(
            last, 1.06 * tall, f"{mark['name']}  {at:.1f} ms", rotation=28, ha="left", va="bottom",
            fontsize=SMALL, color=SOUND, rotation_mode="anchor",
        )  # fmt: skip


def _returns(axes, echo, shape, top):
    """Where partials come back from, as from an open end."""
    time, radius, tall = shape
    rows, apart = echo["returns"], _drawn_out(echo["returns"])
    last = -np.inf
    for row in rows if apart else rows[:1]:
        at = 1e3 * row["time_s"]
        local = np.interp(at, time, radius)
        axes.plot([at, at], [-local, 1.05 * tall], color=AIR_COLUMN, linewidth=2.2)
        last = max(at, last + NUMBER_GAP * top / size_in_pixels(axes)[0])
        axes.text(
            last, 1.1 * tall, f"{row['n']}" if apart else "all partials", color=AIR_COLUMN,
            ha="center", va="bottom", fontsize=SMALL + 2, fontweight="bold",
        )  # fmt: skip
    if apart:
        axes.text(
            last + 0.025 * top, 1.1 * tall,
            "partials come back\nas if from here: low\nones turn earlier",
            color=AIR_COLUMN, fontsize=SMALL, ha="left", va="bottom", linespacing=1.3,
        )  # fmt: skip
