"""The fingering chart as a picture: how far each note lies from equal temperament."""

import numpy as np

from lipmodel.output.pictures.colours import AIR_COLUMN, INK, SOUND
from lipmodel.output.pictures.style import SMALL, new_figure, styled

CLOSE = 10.0  # cents: between the lines a note counts as in tune (common practice)


@styled
def chart_figure(document: dict):
    """A matplotlib `Figure` of a chart's document: a dot a note as usually held, a ring for every
    other way."""
    figure = new_figure(f"{document['what']}: how sharp or flat each note is")
    axes = figure.add_subplot()
    figure.subplots_adjust(left=0.09, right=0.97, top=0.88, bottom=0.16)
    # pedal notes have no cents: the lips set them
    notes = [n for n in document["notes"] if not any(o["pedal"] for o in n["options"][:1])]
    usual = [
        (x, one["cents"], one["usual"])
        for x, note in enumerate(notes)
        for one in note["options"]
        if not one["pedal"]
    ]
    for held, look, words in (
        (False, {"marker": "o", "facecolors": "none", "edgecolors": AIR_COLUMN}, "another way"),
        (True, {"marker": "o", "color": SOUND}, "as usual"),
    ):
        places = np.array([(x, y) for x, y, is_usual in usual if is_usual == held]).reshape(-1, 2)
        axes.scatter(*places.T, s=60, label=words, **look)
    for level in (-CLOSE, 0.0, CLOSE):
        axes.axhline(level, color=INK, linewidth=1.0 if level == 0 else 0.5, zorder=0)
    every = max(1, len(notes) // 16)
    axes.set_xticks(range(0, len(notes), every), [n["written"] for n in notes[::every]])
    axes.set_xlabel("Written note")
    axes.set_ylabel("Cents from equal temperament (up: sharp)")
    axes.legend(fontsize=SMALL, loc="lower right", bbox_to_anchor=(1.0, 1.0), ncol=2)
    return figure
