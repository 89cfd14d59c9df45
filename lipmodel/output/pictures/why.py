"""Why a note is out of tune, as a picture: its cents as a sum of causes."""

from lipmodel.output.pictures.colours import AIR_COLUMN, INK, SOUND
from lipmodel.output.pictures.style import SMALL, new_figure, shown, styled
from lipmodel.studies.chart import short_words


@styled
def why_figure(document: dict, called: str):
    """A matplotlib `Figure` of an explanation's document: a bar a cause, and their sum."""
    figure = new_figure(f"Why {called} is where it is on {document['what']}")
    axes = figure.add_subplot()
    figure.subplots_adjust(left=0.42, right=0.95, top=0.86, bottom=0.14)
    if document["cents"] is None:
        axes.text(0.5, 0.5, shown(document["sentences"][0]), ha="center", transform=axes.transAxes)
        axes.set_axis_off()
        return figure
    rows = [(r["cause"], r["cents"]) for r in document["reasons"]]
    rows.append(("the note as played", document["cents"]))
    for place, (_, value) in enumerate(rows):
        color = SOUND if place == len(rows) - 1 else AIR_COLUMN
        axes.barh(place, value, color=color, height=0.6)
        side = "left" if value >= 0 else "right"
        axes.text(value, place, f" {short_words(value)} ", va="center", ha=side, fontsize=SMALL)
    axes.axvline(0.0, color=INK, linewidth=1.0)
    axes.margins(x=0.15)
    axes.set_yticks(range(len(rows)), [shown(name, 44) for name, _ in rows])
    axes.invert_yaxis()
    axes.set_xlabel("Cents (right: sharp)")
    return figure
