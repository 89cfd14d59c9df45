"""Bore files beside a scene, and a function that tells what a reader says against a file."""

import pytest

from lipmodel.errors import SceneError

PIPE = """\
[[section]]
shape = "cylinder"
length_mm = 700
diameter_mm = 12
"""
BESIDE = {
    "bad.toml": PIPE.replace("700", "-7"),
    "bad.csv": "x_mm,diameter_mm\n0,10\nten,12\n",
    "back.csv": "x_mm,diameter_mm\n0,10\n50,12\n40,12\n",
}


@pytest.fixture
def told(tmp_path, monkeypatch):
    """A function from a reader and a file's text to what it says against it."""
    monkeypatch.chdir(tmp_path)
    for name, text in BESIDE.items():
        (tmp_path / name).write_text(text, "utf-8")

    def read(reader, name: str, text: str | bytes) -> str:
        raw = text if isinstance(text, bytes) else text.encode()
        (tmp_path / name).write_bytes(raw)
        with pytest.raises(SceneError) as caught:
            reader(name)
        return str(caught.value)

    return read
