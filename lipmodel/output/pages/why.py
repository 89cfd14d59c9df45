"""The page that answers why a note is out of tune: both sounds, the sentences, the sum."""

import base64
from html import escape

from lipmodel.output.pages.care import CHILDREN, START_LOW, box
from lipmodel.output.pages.html import page
from lipmodel.units import sharp_or_flat

LABELS = {"as_held": "As it is held, no slide pulled", "remedy": "With what helps best"}
# two short columns stay a table on a narrow screen
STYLE = """
<style>
@media screen and (max-width: 60rem) {
  .sum { display: table; }
  .sum thead { display: table-header-group; position: static; width: auto; height: auto;
               overflow: visible; clip-path: none; }
  .sum tbody { display: table-row-group; }
  .sum tr { display: table-row; border: 0; margin: 0; padding: 0; }
  .sum td { display: table-cell; border-bottom: 1px solid var(--grid); }
  .sum td::before { content: none; }
}
.sum tr:last-child td { font-weight: 700; border-top: 2px solid var(--sound); }
</style>
"""
WORDS = (
    "Cents: hundredths of a semitone from equal temperament. Written, sounding: the note on the "
    "page and the note heard. Partial: the register a player names by number. Resonance: a peak "
    "of the air column. A held note rests a little above its resonance."
)


def why_page(document: dict, sounds: dict, mime: str, remedy: str = "") -> str:
    """One self-contained HTML page.

    `document` is that of why.json; `sounds` holds bytes of type `mime` under "as_held" and
    "remedy"; `remedy` says what was done for the second.
    """
    note = document["note"]
    title = f"Why {note['written']} on {document['what']}?"
    first, *others = document["sentences"]
    parts = [f"{STYLE}<h1>{escape(title)}</h1>", f'<p class="ask">{escape(first)}</p>']
    if sounds:
        parts.append(f"<h2>Listen</h2>\n{box([START_LOW, CHILDREN])}")
    for key, data in sounds.items():
        label = LABELS[key] + (f": {remedy}" if key == "remedy" and remedy else "")
        source = f"data:{mime};base64,{base64.b64encode(data).decode('ascii')}"
        parts.append(
            f'<p id="{key}">{escape(label)}</p>\n<audio controls preload="metadata" '
            f'aria-labelledby="{key}" src="{source}"></audio>'
        )
    reasons = [(r["cause"], sharp_or_flat(r["cents"])) for r in document["reasons"]]
    if reasons:
        reasons.append(("together", sharp_or_flat(document["cents"])))
        parts.append(f"<h2>The sum</h2>\n{_table(('Cause', 'Cents'), reasons)}")
    if others:
        items = "\n".join(f"<li>{escape(s)}</li>" for s in others)
        parts.append(f"<h2>In words</h2>\n<ul>\n{items}\n</ul>")
    parts.append(f"<h2>Words</h2>\n<p>{WORDS}</p>")
    return page(title, "\n".join(parts))


def _table(head, rows) -> str:
    top = "".join(f'<th role="columnheader" scope="col">{name}</th>' for name in head)
    body = "\n".join(
        '<tr role="row">'
        + "".join(
            f'<td role="cell" data-name="{name}">{escape(cell)}</td>'
            for name, cell in zip(head, row, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    return (
        '<table class="sum" role="table">\n'
        f'<thead role="rowgroup"><tr role="row">{top}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{body}\n</tbody>\n</table>'
    )
