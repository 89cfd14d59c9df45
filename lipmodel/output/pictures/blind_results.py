"""What blind listeners heard, as a picture: each one's share of right answers."""

import numpy as np

from lipmodel.output.pictures.colours import INK, LIPS, SOUND
from lipmodel.output.pictures.style import new_figure, shown, styled


@styled
def blind_results_figure(document: dict):
    """A matplotlib `Figure` of blind results: a dot a listener with its 95 % interval, the group
    below, and the line of guessing."""
    rows = [(s["code"], s["right"] / s["count"], s["interval"]) for s in document["listeners"]]
    group = document["group"]
    if group:
        rows.append(("the group", group["mean"], (group["low"], group["high"])))
    figure = new_figure(f"{document['title']}: right answers")
    axes = figure.add_subplot()
    figure.subplots_adjust(left=0.22, right=0.95, top=0.86, bottom=0.14)
    for place, (_, share, interval) in enumerate(rows):
        color = SOUND if group and place == len(rows) - 1 else LIPS
        axes.plot(100 * np.array(interval), [place, place], color=color, linewidth=3)
        axes.plot(100 * share, place, "o", color=color, markersize=10)
    axes.axvline(50.0, color=INK, linewidth=1.0, linestyle="--")
    axes.set_xlim(0, 100)
    axes.set_yticks(range(len(rows)), [shown(name, 24) for name, *_ in rows])
    axes.invert_yaxis()
    axes.set_xlabel("Right answers in % (dashed: guessing)")
    return figure
