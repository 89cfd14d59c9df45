"""The tuning slide set before anything is told."""

import pytest

from lipmodel.errors import SceneError
from lipmodel.player.instrument import load_instrument
from lipmodel.player.tuning_slide import IN_TUNE, Tuned, open_notes, tuned
from lipmodel.scene import starters
from lipmodel.units import cents


def mean_cents(instrument):
    notes = open_notes(instrument)
    assert len(notes) >= 5
    return sum(cents(f, target) + rest for f, target, rest in notes.values()) / len(notes)


@pytest.fixture
def horn(tmp_path):
    """Path of the starter with its tubing longer or shorter by some mm."""

    def written(longer):
        path = tmp_path / f"horn{longer:g}.toml"
        text = starters.text("bore")
        assert "length_mm = 410.0" in text
        path.write_text(text.replace("length_mm = 410.0", f"length_mm = {410 + longer}"))
        return str(path)

    return written


def test_the_slide_is_set_so_that_the_open_notes_are_in_tune_on_average(horn):
    instrument, found = tuned(load_instrument(horn(-12)))
    assert found.pull_mm == instrument.tuning_slide_pull_mm > 0
    # a whole mm of slide is 2.5 cents; played again with the slide there
    assert abs(mean_cents(instrument)) < 2.5
    assert found.words.startswith(f"Tuning slide out {found.pull_mm:g} mm, so that")


@pytest.mark.slow
def test_a_bore_of_other_length_moves_the_slide_by_half_of_it_in_too(horn):
    before = tuned(load_instrument(horn(-12)))[1].pull_mm
    instrument, found = tuned(load_instrument(horn(20)))
    assert found.pull_mm == pytest.approx(before - 16, abs=1)
    assert found.pull_mm < 0
    assert found.words.startswith(f"Tuning slide in {-found.pull_mm:g} mm, so that")
    assert abs(mean_cents(instrument)) < 2.5
    _, ended = tuned(load_instrument(horn(80)))
    assert (ended.pull_mm, ended.ends) == (-12.0, True)
    assert "as far as it goes: the open notes are still" in ended.words
    assert ended.cents < -IN_TUNE


def test_a_scene_says_itself_where_its_slide_is(tmp_path):
    path = tmp_path / "scene.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\ntuning_slide_pull_mm = -10\n[player]\ntune = "C4 1"\n'
    )
    instrument, found = tuned(load_instrument(str(path)))
    assert (instrument.tuning_slide_pull_mm, found.pull_mm, found.words) == (-10, None, "")
    assert found.cents > 20  # in by 10 mm of 1.39 m: 25 cents (closed form)


def test_a_slide_in_tune_is_left_alone():
    assert Tuned(20.0, 3.0, 3.0).words == ""
    instrument, found = tuned(load_instrument("pipe"))
    assert (instrument.tuning_slide_pull_mm, found.pull_mm) == (0.0, None)


def test_a_slide_goes_in_as_far_as_its_file_lets_it(tmp_path, horn):
    path = tmp_path / "scene.toml"
    for pull, good in ((-12, True), (-12.5, False)):
        path.write_text(
            f'[instrument]\nname = "trumpet"\ntuning_slide_pull_mm = {pull}\n'
            '[player]\ntune = "C4 1"\n'
        )
        if good:
            load_instrument(str(path))
            continue
        told = "tuning_slide_pull_mm = -12.5: expected from -12 to 200 mm"
        with pytest.raises(SceneError, match=told):
            load_instrument(str(path))
