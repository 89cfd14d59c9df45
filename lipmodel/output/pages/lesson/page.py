"""The page of a lesson: one section a scene, for the classroom screen, for home and for paper.

Everything is inside: sounds, pictures, numbers, script.  A policy in its head forbids the browser
to load anything or to run any script but this one.
"""

import base64
from html import escape
from pathlib import Path

from lipmodel.output.pages import loudness
from lipmodel.output.pages.care import CHILDREN, START_LOW, box
from lipmodel.output.pages.html import page
from lipmodel.output.pages.lesson.parts import (
    extra_pictures,
    map_part,
    numbers,
    player,
    question,
    tube_part,
)
from lipmodel.output.pages.listen import GLOSSARY
from lipmodel.output.pages.security import policy, script_json

HERE = Path(__file__).parent
SCRIPTS = ("page.js", "take.js", "map.js", "tube.js", "start.js")
KEYS = (
    ("Page Down, → or ↓", "next picture"),
    ("Page Up, ← or ↑", "picture before"),
    ("B or .", "blank the screen, and back"),
    ("Esc", "leave the projector"),
)


def lesson_page(document: dict) -> str:
    """One self-contained HTML page.

    `document`: title, intro, sections; a section has title, ask, answer, listen_for, takes (as
    `lessons.taken` gives them), map (as `audible.walkable`, or None) and failed (sentences).
    """
    sections = document["sections"]
    data = {"takes": [], "maps": [], "tubes": []}
    turned = _turned(sections)
    parts = [_bar(turned), _start(document, sections, turned)]
    parts += [_section(n, section, data, turned) for n, section in enumerate(sections, 1)]
    parts += [_words(), _answers(sections), '<div id="dark" hidden></div>']
    parts.append('<svg id="draw" hidden width="0" height="0" aria-hidden="true"></svg>')
    parts.append(f'<script type="application/json" id="data">{script_json(data)}</script>')
    script = "\n".join((HERE / name).read_text("utf-8") for name in SCRIPTS)
    parts.append(f"<script>{script}</script>")
    look = policy(script, (HERE / "lesson.css").read_text("utf-8"))
    return page(document["title"], "\n".join(parts), look)


def _turned(sections) -> loudness.Turned:
    """How far each sound is turned down, over all sections."""
    levels = [take["report"]["level"] for section in sections for take in section["takes"]]
    return loudness.turned_down([v["lufs"] for v in levels], [v["gain_db"] for v in levels])


def _bar(turned) -> str:
    keys = "".join(f"<dt>{key}</dt><dd>{does}</dd>" for key, does in KEYS)
    return (
        '<div class="bar" role="region" aria-label="The page">\n'
        '<button type="button" id="projector">Projector</button>\n'
        '<button type="button" id="tone">Check the loudspeaker</button>\n'
        '<label class="volume">Volume <input type="range" id="volume" min="0" max="1" '
        'step="0.05" value="0.5"></label>\n'
        f"{loudness.choice(turned)}\n"
        '<label><input type="checkbox" id="worksheet"> Print as a worksheet</label>\n'
        '<button type="button" id="print">Print</button>\n'
        f"<details class='keys'><summary>Keys</summary><dl>{keys}</dl></details>\n</div>\n"
        '<p id="told" class="told" role="status"></p>'
    )


def _start(document, sections, turned) -> str:
    intro = "".join(f"<p>{escape(p)}</p>" for p in document["intro"].split("\n\n") if p.strip())
    links = ""
    if len(sections) > 1:
        items = "\n".join(
            f'<li><a href="#scene{n}">{_isolated(s["title"])}</a></li>'
            for n, s in enumerate(sections, 1)
        )
        links = f'<nav aria-label="Scenes"><ol>\n{items}\n</ol></nav>'
    return (
        f'<section class="slide" id="start">\n<h1>{_isolated(document["title"])}</h1>\n'
        f'<div class="intro">{intro}</div>\n'
        f"{box([START_LOW, CHILDREN])}\n{loudness.apart(turned)}\n{links}\n"
        '<noscript><p class="failed">Sounds can be played here; cursors, map and animation need '
        "JavaScript.</p></noscript>\n</section>"
    )


def _isolated(text: str) -> str:
    """Text whose writing direction is its own affair."""
    return f"<bdi>{escape(text)}</bdi>"


def _section(n: int, section: dict, data: dict, turned: loudness.Turned) -> str:
    title = _isolated(section["title"])
    parts = [f'<section class="scene" id="scene{n}" aria-labelledby="title{n}">']
    parts.append(f'<div class="slide">\n<h2 id="title{n}">{n}. {title}</h2>')
    parts.append(question(section))
    parts.append("</div>")
    if section["failed"]:
        problems = "".join(f"<p>{escape(t)}</p>" for t in section["failed"])
        parts.append(f'<div class="slide failed" role="note"><h3>Not played</h3>{problems}</div>')
    several = len(section["takes"]) > 1
    for take in section["takes"]:
        label = take["report"]["variant"] if several else ""
        number = len(data["takes"])
        data["takes"].append(_curves(take))
        loud = turned.attributes(number)
        parts.append(player(number, take, section["title"], label, loud))
        parts.append(numbers(take))
        parts.append(extra_pictures(take, section["title"]))
    moving = [take for take in section["takes"] if take["animation"]]
    if moving:
        parts.append(tube_part(len(data["tubes"]), section["title"], moving))
        data["tubes"].append([_moving(take) for take in moving])
    if section["map"]:
        parts.append(map_part(len(data["maps"]), section["title"], section["map"]))
        data["maps"].append(_map(section["map"]))
    return "\n".join(parts) + "\n</section>"


def _curves(take: dict) -> dict:
    report = take["report"]
    first = report["inputs"]["notes"]["read_as"]
    return take["curves"] | {
        "resonances": [
            {"n": r["n"], "frequency_hz": round(r["frequency_hz"], 2), "name": r[first]}
            for r in report["resonances"]
        ]
    }


def _moving(take: dict) -> dict:
    report, moving = take["report"], take["animation"]
    note = next((n for n in report["notes"] if n["frequency_hz"]), {})
    state, name = note.get("state", ""), note.get(report["inputs"]["notes"]["read_as"], "")
    variant = "" if report["variant"] == "as written" else f" ({report['variant']})"
    kept = {k: v for k, v in moving.items() if k != "how"}
    return kept | {"label": f"{name}, {state}{variant}"}


def _map(walk: dict) -> dict:
    names = {r["n"]: r[walk["first"]] for r in walk["resonances"]}
    keep = ("tension_hz", "pressure_kpa", "state", "partial", "rows", "columns", "cells")
    held = {k: walk[k] for k in (*keep, "apart_s", "note_s", "curve", "first")}
    sounds = [base64.b64encode(s).decode("ascii") for s in walk["sounds"]]
    return held | {"names": names, "sounds": sounds}


def _words() -> str:
    entries = "\n".join(f"<dt>{word}</dt><dd>{meaning}</dd>" for word, meaning in GLOSSARY)
    return f'<section class="words"><h2>Words</h2>\n<dl>\n{entries}\n</dl></section>'


def _answers(sections) -> str:
    """The last page of the worksheet."""
    rows = "\n".join(
        f"<dt>{n}. {_isolated(s['title'])}</dt><dd>{_isolated(s['answer'])}</dd>"
        for n, s in enumerate(sections, 1)
        if s["answer"]
    )
    return f'<section class="answers"><h2>Answers</h2>\n<dl>\n{rows}\n</dl></section>'
