"""The page of a lesson: one section a scene, for the classroom screen, for home and for paper.

Everything is inside: sounds, pictures, numbers, script.  A policy in its head forbids the browser
to load anything or to run any script but this one.
"""

import base64
from html import escape
from pathlib import Path

from lipmodel.output.pages import loudness
from lipmodel.output.pages.care import box, once
from lipmodel.output.pages.html import page
from lipmodel.output.pages.lesson.parts import figures, map_part, tube_part
from lipmodel.output.pages.lesson.stage import in_words, stage
from lipmodel.output.pages.listen import GLOSSARY
from lipmodel.output.pages.security import policy, script_json
from lipmodel.scene.variants import AS_WRITTEN

HERE = Path(__file__).parent
SCRIPTS = ("page.js", "voices.js", "stage.js", "map.js", "tube.js", "wall.js", "start.js")
KEYS = (
    ("→, Page Down, . or Enter", "next"),
    ("← or Page Up", "back"),
    ("Space", "play"),
    ("1 to 4", "which sound"),
    ("L", "equally loud or not"),
    ("+ −", "volume"),
    ("F", "figures"),
    ("B", "blank"),
    ("Esc", "leave"),
)


def lesson_page(document: dict) -> str:
    """One self-contained HTML page.

    `document`: title, intro, sections; a section has title, ask, choices, right, answer, reason,
    listen_for, staff, takes (as `lesson.read_take` gives them, with a name), map (as
    `map_with_sounds`, or None) and failed (sentences).
    """
    sections = document["sections"]
    data = {"stages": [], "maps": [], "tubes": []}
    turned = _turned(sections)
    parts = [_bar(turned), _start(document, sections, turned)]
    parts += [_section(n, section, data, turned) for n, section in enumerate(sections, 1)]
    parts += [_words(), _answers(sections), _foot(), '<div id="dark" hidden></div>']
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
    care = once(take["report"] for section in sections for take in section["takes"])
    return (
        f'<section class="slide" id="start" aria-label="Start">\n'
        f"<h1>{_isolated(document['title'])}</h1>\n"
        '<p class="name-and-date" aria-hidden="true">Name <span></span> Date <span></span></p>\n'
        f'<div class="intro">{intro}</div>\n'
        f'<div id="care">{box(care)}</div>\n{loudness.apart(turned)}\n{links}\n'
        '<noscript><p class="failed">Sounds can be played here; curves, map and tube need '
        "JavaScript.</p></noscript>\n</section>"
    )


def _foot() -> str:
    """The line at the foot of the wall: what comes next, the keys, how far it is."""
    keys = "".join(f"<span><b>{key}</b> {does}</span>" for key, does in KEYS)
    return (
        '<div id="foot"><button type="button" id="next"></button>'
        f'<span class="keys-told">{keys}</span><span id="place"></span></div>'
    )


def _isolated(text: str) -> str:
    """Text whose writing direction is its own affair."""
    return f"<bdi>{escape(text)}</bdi>"


def _section(n: int, section: dict, data: dict, turned: loudness.Turned) -> str:
    parts = [f'<section class="scene" id="scene{n}" aria-labelledby="title{n}">']
    before = sum(len(one["takes"]) for one in data["stages"])
    loud = [turned.attributes(before + i) for i in range(len(section["takes"]))]
    parts.append(stage(n, section, loud))
    data["stages"].append({"takes": [_curves(take) for take in section["takes"]]})
    if section["failed"]:
        problems = "".join(f"<p>{escape(t)}</p>" for t in section["failed"])
        parts.append(f'<div class="failed" role="note"><h3>Not played</h3>{problems}</div>')
    parts += [_beyond(section, data), figures(section)]
    return "\n".join(parts) + "\n</section>"


def _beyond(section: dict, data: dict) -> str:
    """The second slide of a section: the map to walk and the tube in slow motion."""
    panels = {}
    if section["map"]:
        panels["Map"] = map_part(len(data["maps"]), section["title"], section["map"])
        data["maps"].append(_map(section["map"]))
    moving = [_moving(take, wave) for take in section["takes"] for wave in take["waves"]]
    if moving:
        panels["Tube"] = tube_part(len(data["tubes"]), section["title"], moving)
        data["tubes"].append(moving)
    tabs = "".join(f'<button type="button" class="tab">{name}</button>' for name in panels)
    shown = f'<div class="tabs">{tabs}</div>' if len(panels) > 1 else ""
    inside = "\n".join(panels.values())
    return f'<div class="slide beyond">\n{shown}{inside}\n</div>' if panels else ""


def _curves(take: dict) -> dict:
    report = take["report"]
    first = report["inputs"]["notes"]["read_as"]
    told = {"name": take["name"], "seen": _seen(take, first)}
    return (
        told
        | take["curves"]
        | {
            "resonances": [
                {"n": r["n"], "frequency_hz": round(r["frequency_hz"], 2), "name": r[first]}
                for r in report["resonances"]
            ]
        }
    )


def _seen(take: dict, first: str) -> str:
    """What the curve shows, for who does not see it."""
    length = f"over {take['report']['length_s']:.1f} seconds"
    if take["curves"]["kind"] == "level":
        return f"Loudness in dB against time {length}."
    names = dict.fromkeys(n[first] for n in take["report"]["notes"] if n[first])
    notes = f"the notes {' '.join(names)} ({first})" if names else "no note"
    return f"Pitch in Hz against time {length}: {notes}; dotted, the lip setting."


def _moving(take: dict, wave: dict) -> dict:
    name = wave[take["report"]["inputs"]["notes"]["read_as"]]
    variant = "" if take["name"] == AS_WRITTEN else f" ({take['name']})"
    kept = {k: v for k, v in wave.items() if k not in ("written", "sounding", "state")}
    return kept | {"label": f"{name}, {wave['state']}{variant}"}


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
        f"<dt>{n}. {_isolated(s['title'])}</dt><dd>{_isolated(told)}</dd>"
        for n, s in enumerate(sections, 1)
        if (told := in_words(s))
    )
    return f'<section class="answers"><h2>Answers</h2>\n<dl>\n{rows}\n</dl></section>'
