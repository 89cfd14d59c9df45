"""What a command prints: one JSON object, or one line that refuses; a scene to ask about."""

import json
import re

import pytest

from lipmodel.commands.main import main


def answer(capsys, *argv) -> dict:
    """The one JSON object that a command prints."""
    assert main([*argv, "--json"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert told.out.startswith("{\n")
    assert told.out.endswith("}\n")
    return json.loads(told.out)


def assert_refused(capsys, argv, message):
    assert main([str(a) for a in argv]) == 2
    told = capsys.readouterr()
    assert re.fullmatch(message + r"\n", told.err), told.err
    assert told.out == ""


@pytest.fixture
def scene(tmp_path):
    path = tmp_path / "warm.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\nvalves = "13"\n[player]\npressure_kpa = 5\n'
        "tension_hz = 300\n[air]\ntemperature_c = 30\n"
        '[[variant]]\nname = "no bell"\ninstrument.bell = "none"\n'
    )
    return path


def refused(capsys, *argv):
    assert main([str(a) for a in argv]) == 2
    told = capsys.readouterr().err.strip()
    assert "\n" not in told
    return told
