"""A place of its own for what is kept between runs."""

import pytest


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("LIPMODEL_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"
