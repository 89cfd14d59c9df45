"""What stands still in a film: title, curve, words and axes, wide or upright."""

import math
import textwrap
from dataclasses import dataclass

from lipmodel.output.pictures.colours import AIR_COLUMN
from lipmodel.output.pictures.source import draw_pressure
from lipmodel.output.pictures.style import SMALL, TEXT, TITLE, new_figure, shown, styled
from lipmodel.output.pictures.take import draw_pitch
from lipmodel.output.pictures.tube import LINE, LIPS_HALF
from lipmodel.output.wording import heading, name_first

DPI = 120  # letters larger than on paper: a film is watched from further off
PERIOD = 2.0  # s that one period of the note lasts about, slowed down
TITLE_LETTERS, TITLE_LINES = 32, 2  # of the upright title, full size


@dataclass(frozen=True)
class Layout:
    """Where things are, in px from the top left; `curve` and `along` are (top, bottom)."""

    size: tuple[int, int]
    left: int
    right: int  # of the upper curve: names stand beyond
    curve: tuple[int, int]
    words: int  # the first line under the curve
    words_left: int
    lines: int  # from there to what is written smaller
    tube: int  # its middle
    half: int
    along: tuple[int, int]
    far: int  # the right end of the tube
    alone: int  # the bottom of the curve where there is no tube

    def box(self, rows, right):
        """What matplotlib's add_axes takes, from the column `left` to `right`."""
        width, height = self.size
        return (
            self.left / width, 1 - rows[1] / height,
            (right - self.left) / width, (rows[1] - rows[0]) / height,
        )  # fmt: skip


WIDE = Layout(
    size=(1920, 1080), left=230, right=1560, curve=(125, 485), words=588,
    words_left=230, lines=39, tube=743, half=88, along=(848, 988), far=1870, alone=940,
)  # fmt: skip
UPRIGHT = Layout(
    size=(1080, 1920), left=230, right=725, curve=(285, 970), words=1110,
    words_left=40, lines=95, tube=1370, half=110, along=(1520, 1790), far=1050, alone=1740,
)  # fmt: skip


@styled
def sheet(report: dict, traces: dict, tube, layout: Layout):
    """A matplotlib `Figure` to draw at DPI; the axes of the curve are its first.

    `report`, `traces`: as in `Film`; `tube`: a `Tube`, or None: then the curve fills the sheet.
    """
    title, size = heading(report), tuple(n / DPI for n in layout.size)
    figure = new_figure("" if layout is UPRIGHT else title, size)
    if layout is UPRIGHT:
        lines = textwrap.wrap(shown(title), TITLE_LETTERS)
        smaller = TITLE * min(1.0, TITLE_LINES / max(len(lines), 1))
        figure.suptitle("\n".join(lines), fontsize=smaller, fontweight="bold", va="top", y=0.989)
    rows = layout.curve if tube else (layout.curve[0], layout.alone)
    right = layout.far if report.get("source") else layout.right
    axes = figure.add_axes(layout.box(rows, right))
    if report.get("source"):
        draw_pressure(axes, traces, slice(0, len(traces["time_s"])))
        axes.set_xlim(0, report["length_s"])
    else:
        draw_pitch(axes, report, traces)
        if layout is UPRIGHT:
            axes.legend(loc="lower left", bbox_to_anchor=(0.0, 0.99), reverse=True)
    if tube:
        _shown_note(axes, report)
        _below(figure, report, tube, layout)
    return figure


def _shown_note(axes, report):
    """A pale band over the note that the tube shows."""
    f = report["field"]["played"]["frequency_hz"]
    note = next((n for n in report["notes"] if n["frequency_hz"] == f), None)
    if note and len(report["notes"]) > 1:
        axes.axvspan(note["start_s"], note["end_s"], color=AIR_COLUMN, alpha=0.13, zorder=0, lw=0)


def _below(figure, report, tube, layout: Layout):
    """Words, and the axes that the moving patches lie in."""
    width, height = layout.size
    played = report["field"]["played"]
    name = shown(played[name_first(report)])
    several = len(report["notes"]) > 1
    words = f"Inside the tube during {name}{' (shaded above)' * several}: "
    words += f"slowed down {slower(played['frequency_hz'])} times"
    key = f"violet: pressure above the room's, green: below; full shade {tube.most / 1e3:.2g} kPa"
    if layout is UPRIGHT:
        words, key = words.replace(": ", ":\n"), key.replace("; ", ";\n")
    for text, down, size, weight in (
        (words, 0, TEXT, "bold"),
        (key, layout.lines, SMALL, "normal"),
    ):
        y = 1 - (layout.words + down) / height
        figure.text(
            layout.words_left / width, y, text, fontsize=size, fontweight=weight, va="center"
        )
    figure.text(
        (layout.left - tube.room / 2) / width, 1 - (layout.tube + layout.half * LIPS_HALF) / height,
        "lips", fontsize=SMALL, ha="center", va="top",
    )  # fmt: skip
    axes = figure.add_axes(layout.box(layout.along, layout.left + len(tube.columns)))
    tall = layout.along[1] - layout.along[0]
    top = tube.most / 1e3 * tall / (tall - 1 - 2 * LINE)  # as `Tube.curve` draws it
    axes.set_ylim(-top, top)
    axes.set_xlim(0, 100 * tube.x[-1])
    axes.set_ylabel("Pressure\nin kPa")
    axes.set_xlabel("cm from the lips (bore to scale)")


def slower(frequency: float) -> int:
    """How many times the tube is slowed down: a round number, about PERIOD s a period."""
    times = PERIOD * frequency
    step = 10 ** math.floor(math.log10(times))
    return max(1, round(times / step) * step)
