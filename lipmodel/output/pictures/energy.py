"""Where the breath's power goes: one bar a note, each adding up to all that was blown."""

import numpy as np

from lipmodel.output.pictures.colours import BREATH, INK, LIPS, PAPER, SOUND, TINTS
from lipmodel.output.pictures.style import SMALL, new_figure, shown, styled
from lipmodel.output.wording import heading, name_first

MOST_BARS = 12
NAMED = 3.0  # % of the blown power, from which a part has room for its figure
WALLS = ("mouthpiece", "leadpipe", "tubing", "bell")
JET, SOUND_NAME = "whirls of the jet", "sound"


@styled
def energy_figure(report: dict):
    """A matplotlib `Figure` of `notes[].energy` of a report.json: for every note (the first
    twelve) the shares of the blown power that stay with jet and lips, that the walls take by
    place, and that leave as sound; the last is also written out, since it is thin.
    """
    notes = [n for n in report["notes"] if n.get("energy")][:MOST_BARS]
    figure = new_figure(heading(report), size=(16.0, max(6.5, 3.6 + 1.15 * len(notes))))
    axes = figure.add_subplot()
    figure.subplots_adjust(left=0.16, right=0.86, top=0.80, bottom=0.13)
    if not notes:
        axes.text(0.5, 0.5, "no steady note", ha="center", va="center", fontsize=2 * SMALL)
        axes.set_axis_off()
        return figure
    parts = [shares(n["energy"]) for n in notes]
    left = np.zeros(len(notes))
    for name, color in _colours():
        values = np.array([p[name] for p in parts])
        axes.barh(range(len(notes)), values, left=left, color=color, label=name, height=0.62)
        for row, value in enumerate(values):
            if value >= NAMED:
                ink = INK if color in TINTS[:3] else PAPER
                place = {"ha": "center", "va": "center", "fontsize": SMALL, "color": ink}
                axes.text(left[row] + value / 2, row, f"{value:.0f}", **place)
        left += values
    for row, (note, part) in enumerate(zip(notes, parts, strict=True)):
        into = 100 * note["energy"]["radiated_share"]
        words = f"sound {part[SOUND_NAME]:.2g} %\n({into:.2g} % of what\nentered the tube)"
        axes.text(101, row, words, va="center", fontsize=SMALL - 3, color=SOUND)
    which = name_first(report)
    names = [f"{n[which]}\n{n['energy']['blown_w']:.2f} W blown" for n in notes]
    axes.set_yticks(range(len(notes)), [shown(n.replace("\n", ", "), 40) for n in names])
    axes.set_ylim(len(notes) - 0.45, -0.55)
    axes.set_xlim(0, 100)
    axes.set_xlabel("Share of the blown power in %")
    axes.legend(loc="lower left", bbox_to_anchor=(-0.1, 1.0), ncols=4)
    return figure


def _colours():
    walls = zip((_wall_name(w) for w in WALLS), TINTS, strict=True)
    return [(JET, BREATH), ("lips", LIPS), *walls, (SOUND_NAME, SOUND)]


def _wall_name(place):
    return "mouthpiece: wall, throat" if place == "mouthpiece" else f"wall of the {place}"


def shares(energy: dict) -> dict:
    """The parts of a note's energy row in % of the blown power, in the order of the bar."""
    scale = 100 / energy["blown_w"]
    walls = {_wall_name(w): scale * energy["wall_at_w"][w] for w in WALLS}
    parts = {JET: scale * energy["jet_w"], "lips": scale * energy["lips_w"]}
    return parts | walls | {SOUND_NAME: scale * energy["radiated_w"]}
