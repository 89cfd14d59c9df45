"""Scenes to compare, with their variants, and the document of a set."""

import json

import pytest

from lipmodel.output.compare import scenes_of, variants_of

STEADY = """
title = "One note"
[instrument]
name = "trumpet"
[player]
pressure_kpa = 8.0
tension_hz = 420.0
[sound]
length_s = 1.0
"""
PHRASE = """
[instrument]
name = "trumpet"
[player]
dynamic = "mf"
tempo_bpm = 120
tune = "C5 1, A4 1"
"""
COLD = '[[variant]]\nname = "cold"\nair.temperature_c = 10.0\n'
WARM = '[[variant]]\nname = "warm"\nair.temperature_c = 30.0\n'
CUP = '[[variant]]\nname = "deep"\ninstrument.mouthpiece = "deep"\n'


def scene(tmp_path, text, name="scene"):
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def variants(tmp_path, text):
    return [v for v, _ in variants_of(scenes_of([scene(tmp_path, text)]))]


def document_of(folder):
    return json.loads((folder / "compare.json").read_text("utf-8"))


SWEPT = STEADY.replace("tension_hz = 420.0", "tension_hz = [[0.0, 300.0], [1.0, 600.0]]") + COLD
POP = '[instrument]\nname = "trumpet"\n[source]\nkind = "pop"\n' + COLD


# ---- files of results


@pytest.fixture
def document(compared):
    return document_of(compared)
