"""Pages of a set of sounds to compare: one to listen with open eyes, one to listen blind."""

from html import escape
from pathlib import Path

from lipmodel.output.pages import care, loudness
from lipmodel.output.pages.html import data_url, page
from lipmodel.output.pages.security import policy
from lipmodel.units import MINUS

SCRIPT = (Path(__file__).parent / "compare.js").read_text("utf-8")
STYLE = "bdi { unicode-bidi: isolate; } td { overflow-wrap: anywhere; }"


def compare_page(document: dict, sounds, picture_png: bytes) -> str:
    """All sounds of a set (`document`: compare.json; `sounds`: FLAC of each) on one page that
    opens offline."""
    rows = document["sounds"]
    title = f"{document['title']}: compared"
    lead = document.get("listen_for")
    turned = loudness.turned_down([r["lufs"] for r in rows], [r["gain_db"] for r in rows])
    parts = [
        f"<h1><bdi>{escape(title)}</bdi></h1>",
        f"<p>{escape(lead)}</p>" if lead else "",
        care.box(care.of_all(map(_as_report, rows))),
        f"<p>{loudness.choice(turned)}</p>{loudness.apart(turned)}",
        *(
            _sound(n, row, sound, turned.attributes(n - 1))
            for n, (row, sound) in enumerate(zip(rows, sounds, strict=True), 1)
        ),
        "<section>\n<h2>See</h2>\n"
        f'<img src="{data_url(picture_png, "image/png")}" alt="{escape(_seen(rows))}" width="1600" '
        'height="1200">\n</section>',
        f"<section>\n<h2>In figures</h2>\n{_table(rows)}</section>",
        "<section>\n<h2>How they were made alike</h2>\n"
        + _list(document["sentences"])
        + "</section>",
        "<section>\n<h2>Without looking</h2>\n<p>Can you hear which is which? "
        '<a href="blind.html">Listen blind</a>.</p>\n</section>',
        f"<script>{SCRIPT}</script>",
    ]
    return page(title, "\n".join(part for part in parts if part), policy(SCRIPT, STYLE))


def _as_report(row: dict) -> dict:
    """What the cautions need of a sound."""
    level = {"laf_max_db": row["laf_max_db"]}
    return {"inputs": row["inputs"], "level": level, "source": row["inputs"].get("source")}


def _list(sentences) -> str:
    return "<ul>\n" + "\n".join(f"<li>{escape(s)}</li>" for s in sentences) + "\n</ul>\n"


def _sound(number: int, row: dict, sound: bytes, loud: str) -> str:
    """One sound: what changed, what the player did, how it differs; `loud`: attributes that say
    how far it is turned down."""
    changed = "; ".join(row["changed"]) or ("nothing" if number > 1 else "")
    sentences = [f"Changed: {changed}."] if changed else ["All others are told beside this one."]
    sentences += [f"The player: {words}." for words in row["adapted"]]
    sentences += row["differs"]
    if row["played"]:
        sentences.append(f"Played: {' '.join(row['played'])}.")
    return (
        f'<section>\n<h2 id="sound{number}">{number}. <bdi>{escape(row["name"])}</bdi></h2>\n'
        f'<audio controls preload="metadata" aria-labelledby="sound{number}" {loud} '
        f'src="{data_url(sound, "audio/flac")}"></audio>\n{_list(sentences)}</section>'
    )


def _number(value, form: str) -> str:
    return "–" if value is None else form.format(value).replace("-", MINUS)


def _table(rows) -> str:
    columns = (
        ("Sound", lambda r: r["name"]),
        ("Louder as played, dB", lambda r: _number(r["taken_db"], "{:+.1f}")),
        ("Pitch, Hz", lambda r: _number(r["frequency_hz"], "{:.1f}")),
        ("Cents from the first", lambda r: _number(r["cents_from_first"], "{:+.0f}")),
        ("Centre of the spectrum, Hz", lambda r: _number(r["centroid_hz"], "{:.0f}")),
        ("True peak, dBTP", lambda r: _number(r["true_peak_dbtp"], "{:.1f}")),
    )
    titles = "".join(f'<th role="columnheader" scope="col">{name}</th>' for name, _ in columns)
    body = "\n".join(
        '<tr role="row">'
        + "".join(
            f'<td role="cell" data-name="{n}">{escape(cell(row))}</td>' for n, cell in columns
        )
        + "</tr>"
        for row in rows
    )
    note = "<p>Louder as played: than the first, before all were made equally loud.</p>"
    return (
        f'<table role="table">\n<thead role="rowgroup"><tr role="row">{titles}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{body}\n</tbody>\n</table>\n'
        f"{note}"
    )


def _seen(rows) -> str:
    """The picture in words."""
    names = ", ".join(row["name"] for row in rows)
    return (
        f"Three charts, each with a curve for every sound ({names}). First, how strong each "
        "harmonic is. Second, the pitch in cents from the first sound's, against time. Third, how "
        "the level rises in the first fifth of a second."
    )
