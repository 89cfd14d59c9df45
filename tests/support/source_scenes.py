"""Scenes of a tube that nobody blows."""

import pytest

SCENE = """
title = "The Wednesday brass class at the harbour"
[instrument]
name = "pipe"
mouthpiece = "none"
[source]
{source}
[sound]
length_s = 1.5
{more}
"""


@pytest.fixture
def scene(tmp_path):
    def write(source, more=""):
        path = tmp_path / "quay.toml"
        path.write_text(SCENE.format(source=source, more=more), "utf-8")
        return path

    return write


SHORT = """\
[instrument]
{tube}
[source]
kind = "pop"
{more}
[sound]
length_s = {length}
"""
