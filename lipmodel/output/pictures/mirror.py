"""The bell as a mirror: what it sends back at every frequency, and where in it notes turn."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, INK, SOUND
from lipmodel.output.pictures.style import (
    CURVES,
    SMALL,
    TEXT,
    draw_bore,
    new_figure,
    shown,
    size_in_pixels,
    spread,
    styled,
)
from lipmodel.units import A4_SEMITONE, note_name

TOLD = (2, 3, 4, 6, 8, 12, 10)  # partials whose turning points are marked
MOST_BELLS = 6
MORE = ((AIR_COLUMN, (0, (1, 1))), (INK, (0, (1, 2.5))))
LABEL = 30.0  # px between two numbers
LONGEST_NAME = 24


@styled
def mirror_figure(title: str, document: dict, a4=440.0, spelling="flats"):
    """A matplotlib `Figure` of `mirrored.mirror`: above the share of the energy that every bell
    sends back, below the first bell to scale with the turning points of its partials."""
    figure = new_figure(title)
    _curves(figure.add_axes((0.085, 0.47, 0.885, 0.385)), document, a4, spelling)
    _bell(figure.add_axes((0.03, 0.085, 0.94, 0.275)), document)
    return figure


def _curves(axes, document, a4, spelling):
    members = document["members"][:MOST_BELLS]
    for member, (colour, dashes) in zip(members, (*CURVES, *MORE), strict=False):
        name = shown(member["name"], LONGEST_NAME)
        tube = f"{name} (after {100 * member['tube_m']:.0f} cm of tube)"
        share = 100 * np.asarray(member["reflected"])
        line = {"color": colour, "linestyle": dashes, "linewidth": 3.5, "label": tube}
        axes.plot(document["curve_hz"], share, **line)
    top = document["curve_hz"][-1]
    for row in document["partials"]:
        if row["frequency_hz"] < top:
            axes.plot(row["frequency_hz"], 100 * row["reflected"], "o", color=SOUND, ms=8)
    axes.set_xlim(0, top)
    axes.set_ylim(0, 104)
    axes.set_xlabel("Frequency in Hz (dots: partials)")
    axes.set_ylabel("Sent back by the bell,\n% of the energy")
    axes.legend(loc="lower left", handlelength=3.2)
    _notes(axes, top, a4, spelling)


def _notes(axes, top, a4, spelling):
    """Sounding notes along the upper edge, where they have room."""
    low = A4_SEMITONE + 12 * np.log2(55.0 / a4)
    high = A4_SEMITONE + 12 * np.log2(top / a4)
    semitones = [n for n in range(int(np.ceil(low)), int(high) + 1) if n % 3 == 0]
    places = np.array([a4 * 2 ** ((n - A4_SEMITONE) / 12) for n in semitones])
    kept = sorted(spread(places[::-1], top / 24))
    above = axes.secondary_xaxis("top")
    above.set_xticks(places[::-1][kept], [note_name(semitones[::-1][i], spelling) for i in kept])
    above.set_xlabel("Sounding note")


def _bell(axes, document):
    x, r = np.asarray(document["bell_x_m"]), np.asarray(document["bell_radius_m"])
    end = x[-1]
    place, half = 100 * (x - end), 100 * r
    draw_bore(axes, place, half)
    axes.set_aspect("equal")
    axes.set_xlim(place[0] - 0.5, 1.5)
    room = max(half.max(), 3.0)
    axes.set_ylim(-1.15 * room, 1.75 * room)
    for edge in ("left", "right", "top"):
        axes.spines[edge].set_visible(False)
    axes.set_yticks([])
    axes.set_xlabel("cm from the rim (to scale)")
    axes.set_title(_words(document), fontsize=TEXT, loc="center")
    _turns(axes, document, end, room)


def _words(document) -> str:
    member = document["members"][0]
    if not document["clear"]:
        return "What stands in the bell leaves no flare in which to tell where notes turn"
    if not any(row["turns_m"] is not None for row in document["partials"]):
        return "No curve in which a note could turn before the end"
    return (
        f"Where each partial turns. Above {member['top_hz']:.0f} Hz none is held: all run out"
        if member["top_hz"]
        else "Where each partial turns"
    )


def _turns(axes, document, end, room):
    rows = [r for r in document["partials"] if r["n"] in TOLD and r["turns_m"] is not None]
    width, _ = size_in_pixels(axes)
    scale = (axes.get_xlim()[1] - axes.get_xlim()[0]) / width
    wanted = [100 * (r["turns_m"] - end) for r in rows]
    for i in spread(wanted, LABEL * scale):
        at = wanted[i]
        radius = np.interp(rows[i]["turns_m"], document["bell_x_m"], document["bell_radius_m"])
        axes.plot([at, at], [-100 * radius, 1.18 * room], color=AIR_COLUMN, linewidth=2.5)
        axes.text(
            at, 1.22 * room, f"{rows[i]['n']}", color=AIR_COLUMN, ha="center", va="bottom",
            fontsize=TEXT, fontweight="bold",
        )  # fmt: skip
    if rows:
        first = min(wanted)
        axes.text(
            first - 25 * scale, 1.22 * room, "partial", color=AIR_COLUMN, ha="right", va="bottom",
            fontsize=SMALL,
        )  # fmt: skip
