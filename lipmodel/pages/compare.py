"""Pages of a set of sounds to compare: one to listen with open eyes, one to listen blind."""

import base64
from html import escape
from pathlib import Path

from lipmodel.pages import page
from lipmodel.pages.lesson_parts import data_url
from lipmodel.pages.listen import LOUD, START_LOW
from lipmodel.pages.sealed import head, inert
from lipmodel.pictures import MINUS

HERE = Path(__file__).parent
SCRIPTS = ("blind.js", "blind_page.js")
POLICY = (
    '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
    "media-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n"
    "<style>bdi { unicode-bidi: isolate; } td { overflow-wrap: anywhere; }</style>\n"
)
FEWEST, USUAL, MOST = 10, 10, 50  # trials


def compare_page(document: dict, sounds, picture_png: bytes) -> str:
    """All sounds of a set (`document`: compare.json; `sounds`: FLAC of each) on one page that
    opens offline."""
    rows = document["sounds"]
    title = f"{document['title']}: compared"
    lead = document.get("listen_for")
    parts = [
        f"<h1><bdi>{escape(title)}</bdi></h1>",
        f"<p>{escape(lead)}</p>" if lead else "",
        f'<div class="care"><p>{START_LOW}</p>{_loud(rows)}</div>',
        *(
            _sound(n, row, sound)
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
    ]
    return page(title, "\n".join(part for part in parts if part), POLICY)


def _list(sentences) -> str:
    return "<ul>\n" + "\n".join(f"<li>{escape(s)}</li>" for s in sentences) + "\n</ul>\n"


def _loud(rows) -> str:
    loudest = max((row["laf_max_db"] or 0.0 for row in rows), default=0.0)
    if not loudest > LOUD:
        return ""
    return (
        f"<p>As played the loudest reaches {loudest:.0f} dB(A) at the listener. Protect your "
        f"hearing near real instruments: the recommended limit is {LOUD:.0f} dB(A) for 8 hours a "
        "day (NIOSH), and much less time for anything louder.</p>"
    )


def _sound(number: int, row: dict, sound: bytes) -> str:
    """One sound: what changed, what the player did, how it differs."""
    changed = "; ".join(row["changed"]) or ("nothing" if number > 1 else "")
    told = [f"Changed: {changed}."] if changed else ["All others are told beside this one."]
    told += [f"The player: {words}." for words in row["adapted"]]
    told += row["differs"]
    if row["played"]:
        told.append(f"Played: {' '.join(row['played'])}.")
    return (
        f'<section>\n<h2 id="sound{number}">{number}. <bdi>{escape(row["name"])}</bdi></h2>\n'
        f'<audio controls preload="metadata" aria-labelledby="sound{number}" '
        f'src="{data_url(sound, "audio/flac")}"></audio>\n{_list(told)}</section>'
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


# ---- blind


def blind_page(document: dict, sounds) -> str:
    """The blind test of a set, one page that opens offline; arguments as for `compare_page`, of
    sounds that all differ."""
    script = "\n".join((HERE / name).read_text("utf-8") for name in SCRIPTS)
    kept = ("title", "version", "set", "seed", "rate_hz", "loudness_lufs")
    data = {k: document[k] for k in kept}
    data["sounds"] = [
        {"name": row["name"], "sha256": row["sha256"], "flac": base64.b64encode(flac).decode()}
        for row, flac in zip(document["sounds"], sounds, strict=True)
    ]
    title = f"Blind: {document['title']}"
    parts = [
        f"<h1><bdi>{escape(title)}</bdi></h1>",
        '<noscript><p class="care">This page needs JavaScript.</p></noscript>',
        '<p id="told" class="told" role="status"></p>',
        _setup(document["sounds"]),
        _trial(),
        _result(),
        f'<script type="application/json" id="data">{inert(data)}</script>',
        f"<script>{script}</script>",
    ]
    return page(title, "\n".join(parts), head(script, (HERE / "blind.css").read_text("utf-8")))


def _button(name: str, label: str, look: str = "") -> str:
    return f'<button type="button" id="{name}"{look and f" class={look!r}"}>{label}</button>'


def _setup(rows) -> str:
    names = "".join(f"<li><bdi>{escape(row['name'])}</bdi></li>" for row in rows)
    count = max(USUAL, min(MOST, len(rows) * (len(rows) - 1) // 2))
    return f"""<section id="setup">
<h2>Before you begin</h2>
<p>In every trial X is the same sound as A or as B. Say which. All sounds are equally loud, and
start together; switch as often as you like.</p>
<div class="care"><p>{START_LOW} Set the volume with the sound below: it begins very softly.</p>
</div>
<div class="row">{_button("check", "Set the volume")}
<label>Volume <input type="range" id="volume" min="0" max="1" step="0.02" value="0.4"></label>
</div>
<div class="row"><label>Listener code (not your name) <input type="text" id="code" maxlength="20"
autocomplete="off" spellcheck="false"></label>
<label>Trials <input type="number" id="count" min="{FEWEST}" max="{MOST}" value="{count}"></label>
</div>
<p class="note">The number of trials is settled now and the result comes at the end. To it come a
few catch trials, in which A and B are the same sound. An answer cannot be taken back.</p>
<div class="row">{_button("practise", "Practise, with answers")}
{_button("start", "Start the test", "go")}</div>
<div class="row"><label><input type="checkbox" id="keys" checked> Keys: A, B, X to listen, S to
stop, 1 for “X is A”, 2 for “X is B”</label></div>
<details><summary>The sounds</summary><ul>{names}</ul></details>
</section>"""


def _trial() -> str:
    listen = "".join(
        f'<button type="button" id="hear{name}" aria-pressed="false" '
        f'aria-label="Listen to {name}">{name}</button>'
        for name in "ABX"
    )
    return f"""<section id="trial" hidden>
<h2 id="which">Trial</h2>
<div class="row listen" role="group" aria-label="Listen">{listen}{_button("stop", "Stop")}</div>
<div class="row answers" role="group" aria-label="Answer">{_button("isA", "X is A", "go")}
{_button("isB", "X is B", "go")}</div>
<div class="row">{_button("leave", "End practice")}</div>
</section>"""


def _result() -> str:
    return f"""<section id="result" hidden>
<h2>Result</h2>
<div id="told-result"></div>
<div class="row">{_button("json", "Save the result (JSON)")}
{_button("csv", "Save as a table (CSV)")}
{_button("again", "Another listener")}</div>
<p class="note">Several results together: lipmodel compare --read FILE.json ...</p>
</section>"""
