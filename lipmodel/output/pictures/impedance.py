"""The input impedance of the air column: its peaks are the resonances that hold the notes."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, PAPER, SOUND
from lipmodel.output.pictures.style import CURVES, SMALL, new_figure, shown, size_in_pixels, styled
from lipmodel.units import nearest_note, note_name, sharp_or_flat

HIGHEST = 1600.0  # Hz
MOST_POINTS = 4000  # of one curve
LETTER_WIDTH, LINE_HEIGHT = 12.5, 24.0  # px, of a label at a peak
HEADROOM = 1.24  # of the highest peak: a label of three lines stands on it


@styled
def impedance_figure(title, curves, resonances, a4=440.0, measured=None, first="written"):
    """Magnitude of the input impedance against frequency, a matplotlib `Figure`.

    `curves`: list of (label, frequency in Hz, |Z| in Pa s/m3), arrays of shape (n,).
    `resonances`: dicts as in report.json; their names stand on the peaks when there is one
    curve.  A resonance without names is named by `a4` in Hz.  `measured`: (frequency in Hz, |Z|
    in Pa s/m3), drawn dashed.  `first`: which name is shown, "written" or "sounding".
    """
    figure = new_figure(title, size=(16.0, 9.0))
    axes = figure.add_axes((0.09, 0.115, 0.88, 0.79))
    top = 0.0
    for i, (label, frequency, magnitude) in enumerate(curves):
        colour, dashes = CURVES[i % len(CURVES)]
        line = {"color": colour, "linestyle": dashes, "linewidth": 3.0}
        top = max(top, _draw(axes, frequency, magnitude, label=shown(label), **line))
    if measured is not None:
        line = {"color": AIR_COLUMN, "linestyle": (0, (4, 2)), "linewidth": 2.4}
        top = max(top, _draw(axes, *measured, label="measured", **line))
    axes.set_xlim(0, HIGHEST)
    axes.set_ylim(0, (HEADROOM * top) or 1.0)
    axes.set_xlabel("Frequency in Hz")
    axes.set_ylabel("Input impedance in MPa s/m³")
    if len(curves) == 1:
        _name_peaks(axes, resonances, a4, first)
    if len(curves) > 1 or measured is not None:
        axes.legend(loc="upper right", handlelength=3.5)
    return figure


def _draw(axes, frequency, magnitude, **line) -> float:
    """One curve up to HIGHEST; gives back its highest value in MPa s/m3."""
    frequency, size = np.asarray(frequency, float), np.asarray(magnitude, float) / 1e6
    inside = np.flatnonzero(frequency <= HIGHEST)
    step = max(1, len(inside) // MOST_POINTS)
    axes.plot(frequency[inside][::step], size[inside][::step], **line)
    return float(np.nanmax(size[inside], initial=0.0))


def _words(resonance, a4, first) -> tuple[str, ...]:
    """Number, note and cents of one resonance."""
    name, off = resonance.get(first), resonance.get("cents")
    if not name:
        semitone, off = nearest_note(resonance["frequency_hz"], a4)
        name = note_name(semitone)
    words = sharp_or_flat(off or 0.0)
    # "48 cents" over "flat": as narrow as a sign would be
    return str(resonance["n"]), name, *words.replace("cents ", "cents\n").split("\n")


def _name_peaks(axes, resonances, a4, first):
    """Number, note and cents over each peak, from the lowest up, where there is room."""
    width, height = size_in_pixels(axes)
    top = axes.get_ylim()[1]
    taken = []
    for resonance in resonances:
        frequency, peak = resonance["frequency_hz"], resonance["magnitude_pa_s_m3"] / 1e6
        if not frequency < HIGHEST:
            continue
        words = _words(resonance, a4, first)
        x, y = width * frequency / HIGHEST, height * peak / top + 8
        for lines in (words, words[:2], words[:1]):
            half = LETTER_WIDTH * max(map(len, lines)) / 2
            box = (x - half, x + half, y, y + LINE_HEIGHT * len(lines))
            if not any(_overlap(box, other) for other in taken):
                taken.append(box)
                place = {"ha": "center", "va": "bottom", "textcoords": "offset points"}
                label = {"fontsize": SMALL, "color": SOUND, "linespacing": 1.15}
                paper = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1}
                place |= {"xytext": (0, 6), "bbox": paper}
                axes.annotate("\n".join(lines), (frequency, peak), **place, **label)
                break


def _overlap(one, other) -> bool:
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]
