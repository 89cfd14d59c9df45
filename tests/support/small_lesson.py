"""A short lesson with everything in it: a hostile title, a note, a map, a scene that fails."""

import json
import time
from pathlib import Path

from lipmodel.commands.main import main

PATIENCE = 120.0  # s
HOSTILE = (
    '<img src=x onerror="window.hit=1"></script><script>window.hit=2</script> \'so\' & "so" '
    "\N{TRUMPET} \N{HEBREW LETTER SHIN}\N{HEBREW LETTER LAMED}\N{HEBREW LETTER VAV}"
)
LESSON = """
title = '''TITLE'''
intro = '''Listen first. INTRO'''
scenes = ["note.toml", "broken.toml", "walk.toml"]
"""
NOTE = """
title = '''TITLE'''
ask = '''Will it hold? TITLE'''
choices = ["It slides", "It holds <b>", "Neither"]
right = 2
answer = '''It holds. TITLE'''
listen_for = '''One note. TITLE'''
[instrument]
name = "trumpet"
[player]
pressure_kpa = 8.0
[[player.phrase]]
note = "C5"
length_s = 0.7
[[variant]]
name = "bent"
player.phrase = [{ note = "C5", length_s = 0.7, bend_cents = -90.0 }]
"""
BROKEN = """
title = "Nothing comes of it"
[instrument]
name = "trumpet"
[player]
pressure_kpa = 0.5
tune = "C6 1"
"""
WALK = """
title = "A walk"
[instrument]
name = "trumpet"
[player]
pressure_kpa = [[0.0, 0.0], [0.05, 8.0]]
tension_hz = [[0.0, 300.0], [0.6, 360.0]]
[sound]
length_s = 0.6
[map]
tension_hz = [200.0, 500.0]
pressure_kpa = [1.5, 10.0]
columns = 9
rows = 3
"""


def write(folder: Path) -> Path:
    """The lesson's files in `folder`; the path of lesson.toml."""
    folder.mkdir(parents=True)
    files = {"lesson": LESSON, "note": NOTE, "broken": BROKEN, "walk": WALK}
    for name, text in files.items():
        text = text.replace("TITLE", HOSTILE).replace("INTRO", HOSTILE)
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder / "lesson.toml"


def make(folder: Path) -> tuple[Path, int]:
    """The page, and the exit code of the command that made it; made once in `folder`, whoever
    asks: the processes of a test run wait for the first of them."""
    place, told = folder / "brass class, péniche", folder / "code.txt"
    page = place / "leçon 1.html"
    try:
        folder.mkdir()
    except FileExistsError:
        began = time.monotonic()
        while not told.is_file():
            assert time.monotonic() - began < PATIENCE, "another process did not make the lesson"
            time.sleep(0.1)
        return page, int(told.read_text("utf-8"))
    code = main(["lesson", str(write(place)), "--out", str(page), "--workers", "1"])
    made = folder / "code"
    made.write_text(str(code), encoding="utf-8")
    made.rename(told)
    return page, code


def data_of(page):
    return json.loads(page.split('id="data">')[1].split("</script>")[0])
