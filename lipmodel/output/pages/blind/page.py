"""Blind.html."""

import base64
from html import escape
from itertools import combinations
from pathlib import Path

from lipmodel.output.pages.care import CHILDREN, START_LOW
from lipmodel.output.pages.html import page
from lipmodel.output.pages.security import policy, script_json
from lipmodel.studies import blind_room as room

HERE = Path(__file__).parent
SCRIPTS = ("trials.js", "page.js", "room.js")
FEWEST, USUAL, MOST = 10, 10, 50  # trials
ROUND = 6  # trials of a room


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
        _room(),
        f'<script type="application/json" id="data">{script_json(data)}</script>',
        f"<script>{script}</script>",
    ]
    return page(title, "\n".join(parts), policy(script, (HERE / "blind.css").read_text("utf-8")))


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
<p>{CHILDREN}</p></div>
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
<h3>A round for the whole room</h3>
<p>A, B and X over the loudspeaker, hands up, and the result at once.</p>
<div class="row">{_pairs(rows)}
<label>Trials <input type="number" id="room-count" min="{room.FEWEST}" max="{room.MOST}"
value="{ROUND}"></label>
{_button("room-start", "Begin the round", "go")}</div>
<details><summary>The sounds</summary><ul>{names}</ul></details>
</section>"""


def _pairs(rows) -> str:
    """Which two sounds a room compares."""
    options = "".join(
        f'<option value="{a},{b}">{escape(rows[a]["name"])} and {escape(rows[b]["name"])}</option>'
        for a, b in combinations(range(len(rows)), 2)
    )
    return f'<label>Sounds <select id="room-pair">{options}</select></label>'


def _room() -> str:
    listen = "".join(
        f'<button type="button" id="room{name}" aria-pressed="false" '
        f'aria-label="Listen to {name}">{name}</button>'
        for name in "ABX"
    )
    hands = "".join(
        f'<label>X is {name}: hands <input type="number" id="hands-{name.lower()}" min="0" '
        f'max="{room.MOST_HANDS}" inputmode="numeric"></label>'
        for name in "AB"
    )
    return f"""<section id="room" hidden>
<h2 id="room-which">Trial</h2>
<p id="room-how">X is the same sound as A or as B. Eyes shut, hands up: first for A, then for B.</p>
<div class="row listen" role="group" aria-label="Listen">{listen}
{_button("room-stop", "Stop")}</div>
<div class="row hands">{hands}{_button("room-go", "Count", "go")}</div>
<div id="room-told" role="status"></div>
<div class="row last">{_button("room-save", "Save the round (JSON)")}
{_button("room-leave", "Leave")}</div>
<p class="note">Keys: A, B, X listen, S stops; Page Down, → or . does the next thing.</p>
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
<p class="note">Several results together: lipmodel compare --read FOLDER</p>
</section>"""
