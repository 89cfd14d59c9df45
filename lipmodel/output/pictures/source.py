"""A tube that nobody blows: the pressure against time, and its spectrum over the resonances."""

import numpy as np
from matplotlib.ticker import MaxNLocator

from lipmodel.output.pictures.colours import AIR_COLUMN, BREATH, INK, SOUND
from lipmodel.output.pictures.style import (
    SMALL,
    THIN,
    new_figure,
    shown,
    size_in_pixels,
    spread,
    styled,
)
from lipmodel.output.wording import heading

COLUMNS = 1000
LOWEST_DB, HIGHEST_DB = -60.0, 16.0
FROM_KPA = 200.0  # Pa
POP = (-0.02, 0.3)  # s around it
WORDS = {
    "pop": "one slap on the lip end",
    "breath": "rushing air",
    "tone": "a loudspeaker that sweeps",
    "flame": "a flame",
}
LABEL_WIDTH = 46  # px


@styled
def source_figure(report: dict, traces: dict):
    """Picture of a take with a source, a matplotlib `Figure` of 1600 x 1200 px.

    `report` is the dict of report.json, `traces` the arrays of traces.npz, SI, shape (n,).
    """
    figure = new_figure(heading(report))
    grid = figure.add_gridspec(
        3, 1, height_ratios=(1.1, 2.2, 3.2), hspace=0.42,
        left=0.12, right=0.965, top=0.9, bottom=0.075,
    )  # fmt: skip
    source = report["source"]
    given = figure.add_subplot(grid[0])
    span = _span(report, traces)
    _against_time(given, traces, "flow_m3_s", 1e3, BREATH, span)
    given.set_ylabel("Flow put in\nin l/s")
    words = f"{WORDS[source['kind']]}, {source['placed_mm']:.0f} mm from the lip end"
    given.set_xlabel(shown(f"Time in s ({words}; lip end {source['lip_end']})"))
    pressure = figure.add_subplot(grid[1])
    draw_pressure(pressure, traces, span)
    _spectrum(figure.add_subplot(grid[2]), report, source)
    return figure


def draw_pressure(axes, traces, span):
    """Pressure at the lip end against time, in the samples `span` (a slice)."""
    loud = np.abs(traces["mouthpiece_pressure_pa"][span]).max(initial=0.0) > FROM_KPA
    _against_time(axes, traces, "mouthpiece_pressure_pa", 1e-3 if loud else 1.0, SOUND, span)
    axes.set_ylabel(f"Pressure at the\nlip end in {'kPa' if loud else 'Pa'}")
    axes.set_xlabel("Time in s")


def _span(report, traces):
    """Samples to draw: all of them, or the moment of a pop."""
    size, start = len(traces["time_s"]), report["source"].get("start_s")
    if start is None:
        return slice(0, size)
    first, last = (int((start + t) * report["rate_hz"]) for t in POP)
    return slice(max(0, first), min(size, last)) if first < size else slice(0, size)


def _against_time(axes, traces, name, scale, color, span):
    """Lowest and highest value of each of about COLUMNS steps."""
    values = scale * np.asarray(traces[name][span], float)
    time = np.asarray(traces["time_s"])[span]
    at = np.unique(np.linspace(0, len(values), COLUMNS, endpoint=False).astype(int))
    low, high = np.minimum.reduceat(values, at), np.maximum.reduceat(values, at)
    axes.fill_between(time[at], low, high, color=color, linewidth=0.8)
    axes.set_xlim(time[0], time[-1])
    if not (low.any() or high.any()):
        axes.set_ylim(-1, 1)
    axes.yaxis.set_major_locator(MaxNLocator(5))


def _spectrum(axes, report, source):
    frequency = np.asarray(source["spectrum"]["frequency_hz"])
    top = min(frequency[-1], _highest(report, frequency))
    level = np.asarray(source["spectrum"]["level_db"])
    level = np.maximum(level - level[frequency <= top].max(), LOWEST_DB)
    axes.set_xlim(0, top)
    axes.set_ylim(LOWEST_DB, HIGHEST_DB)
    label = "resonances of the tube"
    inside = [r for r in report["resonances"] if r["frequency_hz"] < top]
    for r in inside:
        line = {"color": AIR_COLUMN, "linewidth": THIN, "linestyle": (0, (1, 2))}
        axes.axvline(r["frequency_hz"], label=label, **line)
        label = None
    what = "the sound's spectrum"
    if source["kind"] != "flame":
        what = "the tube's answer: pressure for the flow put in"
    axes.plot(frequency, level, color=SOUND, linewidth=2.5, label=what)
    width, _ = size_in_pixels(axes)
    played = {n["partial"] for n in report["notes"]}
    inside.sort(key=lambda r: r["n"] not in played)
    for i in spread([width * r["frequency_hz"] / top for r in inside], LABEL_WIDTH):
        n = inside[i]["n"]
        bold = {"fontweight": "bold", "color": INK} if n in played else {"color": AIR_COLUMN}
        axes.text(
            inside[i]["frequency_hz"],
            HIGHEST_DB + 0.5,
            f"{n}",
            ha="center",
            va="bottom",
            fontsize=SMALL,
            **bold,
        )
    axes.set_xlabel("Frequency in Hz; above: number of the resonance")
    axes.set_ylabel("Level in dB,\nhighest = 0")
    axes.legend(loc="upper right", ncols=2, borderaxespad=0.1)


def _highest(report, frequency):
    """The highest frequency worth drawing: a little over the twelfth resonance."""
    own = [r["frequency_hz"] for r in report["resonances"]][:12]
    return 1.15 * own[-1] if own else frequency[-1]
