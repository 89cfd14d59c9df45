"""What is kept between runs is used whole or not at all."""

import os
import random

import numpy as np
import pytest
from support import own_cache

from lipmodel.files.cache import folder, load, store

place = own_cache.place  # the same fixture


# what is kept between runs


def test_a_kept_file_with_any_wrong_byte_is_not_used(tmp_path, monkeypatch):
    monkeypatch.setenv("LIPMODEL_CACHE", str(tmp_path))
    store("x", {"a": np.arange(40.0), "b": np.array("words")})
    path, draw = tmp_path / "x.npz", random.Random(2)
    whole = path.read_bytes()
    assert load("x")["a"].tolist() == list(range(40))
    for _ in range(300):
        damaged = bytearray(whole)
        damaged[draw.randrange(len(whole))] ^= 1 << draw.randrange(8)
        path.write_bytes(damaged[: draw.choice([len(whole), draw.randrange(len(whole))])])
        assert load("x") is None


@pytest.mark.parametrize("damage", [b"", b"not a zip", b"PK\x03\x04 cut"])
def test_a_damaged_file_is_worked_out_anew(place, damage):
    store("x", {"a": np.arange(3)})
    assert load("x")["a"].tolist() == [0, 1, 2]
    (place / "x.npz").write_bytes(damage)
    assert load("x") is None


def test_the_oldest_make_room(place, monkeypatch):
    monkeypatch.setattr("lipmodel.files.cache.MOST_FILES", 3)
    for i in range(5):
        store(f"k{i}", {"a": np.array([i])})
        os.utime(place / f"k{i}.npz", (i, i))
    assert sorted(p.stem for p in folder().glob("*.npz")) == ["k2", "k3", "k4"]
