"""One look for all pictures: sizes, axes with names and units.

Lines differ in their dashes as well as in their colours, so that no picture depends on colour
vision.
"""

import functools

import matplotlib
from matplotlib.figure import Figure
from matplotlib.font_manager import findfont, get_font

from lipmodel.output.pictures.colours import AIR_COLUMN, INK, PAPER, PLUM, SOUND, THIRD

CURVES = (  # colour and dashes of several curves in one picture
    (SOUND, "-"),
    (PLUM, (0, (6, 2))),
    (THIRD, (0, (6, 2, 1.5, 2))),
    (INK, (0, (2, 1.5))),
)
FONT = "DejaVu Sans"  # comes with matplotlib: the same picture on every machine
DPI = 100
SIZE = (16.0, 12.0)  # inches: 1600 x 1200 px, read from the back row when it fills a screen
TITLE, TEXT, SMALL = 26, 19, 16  # points
THICK, THIN = 5.0, 1.6  # points
LONGEST_TITLE = 90  # characters, set smaller from WIDEST_TITLE on, cut after that
WIDEST_TITLE = 62
SHEET = {
    "font.family": [FONT],
    "font.size": TEXT,
    "axes.labelsize": TEXT,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 1.2,
    "axes.facecolor": PAPER,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "figure.facecolor": PAPER,
    "figure.dpi": DPI,
    "savefig.dpi": DPI,
    "legend.fontsize": SMALL,
    "legend.frameon": False,
    "lines.solid_capstyle": "round",
    "path.simplify": True,
    "text.color": INK,
    "text.parse_math": False,  # a dollar sign in a title is a dollar sign
    "text.usetex": False,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.color": INK,
    "ytick.color": INK,
}


def styled(draw):
    """Run `draw` with this look, whatever the user's own matplotlib settings say."""

    @functools.wraps(draw)
    def inside(*args, **kwargs):
        with matplotlib.rc_context(SHEET):
            figure = draw(*args, **kwargs)
        # matplotlib makes most ticks only when it draws, outside of this look
        for axes in figure.axes:
            axes.tick_params(labelsize=SMALL, color=INK, labelcolor=INK, labelfontfamily=FONT)
        return figure

    return inside


def new_figure(title: str, size=SIZE) -> Figure:
    """An empty picture with its title, `size` in inches."""
    figure = Figure(figsize=size, dpi=DPI)
    line = shown(title)
    figure.suptitle(
        line,
        fontsize=min(TITLE, TITLE * WIDEST_TITLE / max(len(line), 1)),
        fontweight="bold",
        y=1 - 0.22 / size[1],
        va="top",
    )
    return figure


def shown(text: str, longest: int = LONGEST_TITLE) -> str:
    """`text` in one line that the font can write: other signs left out, too long cut with "…"."""
    font = get_font(findfont(FONT))
    known = "".join(c for c in " ".join(str(text).split()) if font.get_char_index(ord(c)))
    words = " ".join(known.split())
    return words if len(words) <= longest else words[: longest - 1].rstrip() + "…"


def draw_bore(axes, along, radius):
    """A bore from the side: grey inside, its wall drawn; `along` and `radius` of shape (n,)."""
    axes.fill_between(along, -radius, radius, color=AIR_COLUMN, alpha=0.25, linewidth=0)
    for side in (-radius, radius):
        axes.plot(along, side, color=INK, linewidth=2)


def size_in_pixels(axes) -> tuple[float, float]:
    """Width and height of `axes` in px of the finished picture."""
    box = axes.get_position()
    width, height = axes.figure.get_size_inches() * DPI
    return box.width * width, box.height * height


def spread(wanted, least: float) -> list[int]:
    """Which of the places `wanted` (first ones first) keep `least` apart: their indices."""
    kept: list[int] = []
    for i, place in enumerate(wanted):
        if all(abs(place - wanted[j]) >= least for j in kept):
            kept.append(i)
    return kept
