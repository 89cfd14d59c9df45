"""Three short sounds to compare, with hostile names, and results of listeners as the page saves
them."""

import json
from pathlib import Path

from support.small_lesson import HOSTILE

from lipmodel.commands.main import main
from lipmodel.studies import blind_test

NAME = "<b onload='window.hit=3'>\"no\" \N{TRUMPET} \N{HEBREW LETTER SHIN}</b>"
SCENE = f"""
title = '''{HOSTILE}'''
listen_for = '''{HOSTILE}'''
[instrument]
name = "trumpet"
[player]
pressure_kpa = 8.0
tension_hz = 420.0
[sound]
length_s = 0.8
[[variant]]
name = '''{NAME}'''
instrument.bell = "late"
[[variant]]
name = "cold"
air.temperature_c = 10.0
"""


def make(folder: Path) -> Path:
    """The folder that `compare` writes for the scene above."""
    scene, out = folder / "three.toml", folder / "brass class, péniche"
    scene.write_text(SCENE, encoding="utf-8")
    assert main(["compare", str(scene), "--out", str(out)]) == 0
    return out


def results(document: dict, code: str, right: int, count: int = 10) -> dict:
    """A listener's file as the page saves it, `right` of `count` answers right."""
    sounds = [{"name": s["name"], "sha256": s["sha256"]} for s in document["sounds"]]
    rows, left = [], right
    for number, t in enumerate(blind_test.trials(len(sounds), count, document["seed"], code), 1):
        hit = t.catch or left > 0
        left -= not t.catch
        row = {"number": number, "a": t.a, "b": t.b, "x": t.x, "catch": t.catch}
        row |= {"answer": t.x if hit else 1 - t.x, "ms": 4000 + number, "switches": 3}
        rows.append(row)
    keys = ("a", "b", "x", "answer", "ms", "switches")
    answered = [",".join(str(row[k]) for k in keys) for row in rows]
    text = "/".join([document["set"], str(document["seed"]), code, str(count), *answered])
    return {
        "kind": "blind listening", "format": 1, "title": document["title"],
        "set": document["set"], "seed": document["seed"], "code": code, "count": count,
        "sounds": sounds, "trials": rows, "score": {"right": right}, "seal": blind_test.seal(text),
    }  # fmt: skip


def saved(folder: Path, data: dict, name: str = "result.json") -> Path:
    path = folder / name
    path.write_text(json.dumps(data), encoding="utf-8")
    return path
