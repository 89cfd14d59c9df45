"""What is kept between runs is the same as what is worked out anew, or it is not used."""

import numpy as np
import pytest
from support import own_cache
from support.music import AIR

from lipmodel.acoustics.resonances import resonances
from lipmodel.air import Air
from lipmodel.bore import instruments
from lipmodel.bore.geometry import Bore
from lipmodel.files.cache import key_of, load, store
from lipmodel.player.cached import kept_resonances, played_resonances
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.ladder import ladder_arrays, ladder_from_arrays

place = own_cache.place  # the same fixture

HAILING_CONE = instruments.instrument("hailing_cone")


@pytest.mark.parametrize("end", ["unflanged", "node"])
def test_a_kept_ladder_is_the_ladder(place, end):
    ladder = build_ladder(HAILING_CONE.replaced_end(end), AIR, 48_000.0)
    store("ladder-x", ladder_arrays(ladder))
    again = ladder_from_arrays(load("ladder-x"))
    for name, value in ladder_arrays(ladder).items():
        np.testing.assert_array_equal(value, ladder_arrays(again)[name], err_msg=name)
    assert isinstance(again.turn, int)
    assert again.end == ladder.end


def test_kept_resonances_are_the_resonances(place):
    first, second = kept_resonances(HAILING_CONE, AIR), kept_resonances(HAILING_CONE, AIR)
    assert first == resonances(HAILING_CONE, AIR)
    assert second == first
    assert len(list(place.glob("resonances-*.npz"))) == 1


def test_another_bore_air_or_rate_has_another_key():
    keys = {
        key_of("ladder", HAILING_CONE, AIR, 48_000.0),
        key_of("ladder", HAILING_CONE, AIR, 44_100.0),
        key_of("ladder", HAILING_CONE, Air.at(22.1), 48_000.0),
        key_of("ladder", HAILING_CONE.replaced_end("closed"), AIR, 48_000.0),
        key_of("ladder", Bore(HAILING_CONE.x, HAILING_CONE.radius * 1.001), AIR, 48_000.0),
        key_of("resonances", HAILING_CONE, AIR, 48_000.0),
    }
    assert len(keys) == 6


def test_a_folder_that_cannot_be_made_is_only_slower(tmp_path, monkeypatch):
    file = tmp_path / "file"
    file.write_text("in the way")
    monkeypatch.setenv("LIPMODEL_CACHE", str(file / "below"))
    store("x", {"a": np.arange(3)})
    assert load("x") is None
    assert kept_resonances(HAILING_CONE, AIR)


@pytest.mark.parametrize(
    "arrays", [{}, {"rows": np.zeros((3, 2))}, {"rows": np.array(1.0)}], ids=str
)
def test_kept_arrays_of_another_form_are_made_anew(tmp_path, monkeypatch, arrays):
    monkeypatch.setenv("LIPMODEL_CACHE", str(tmp_path))
    right = kept_resonances(HAILING_CONE, AIR)
    (path,) = tmp_path.glob("resonances-*.npz")
    store(path.stem, arrays)
    assert kept_resonances(HAILING_CONE, AIR) == right
    assert load(path.stem)["rows"].shape == (len(right), 3)
    np.savez(path, **arrays)  # and without a digest
    assert kept_resonances(HAILING_CONE, AIR) == right


@pytest.mark.parametrize("name", ["trumpet", "tuba"])
def test_the_resonances_that_are_played_are_the_first_of_all(name):
    bore = instruments.instrument(name)
    every, played = kept_resonances(bore, AIR), played_resonances(bore, AIR)
    assert min(16, len(every)) <= len(played) <= len(every)
    for one, other in zip(played, every, strict=False):
        assert one.n == other.n
        # the grid is cut off, not moved: both close in on the same peaks
        assert one.frequency == pytest.approx(other.frequency, rel=1e-9)
        assert one.magnitude == pytest.approx(other.magnitude, rel=1e-9)
