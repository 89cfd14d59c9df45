"""Sentences of a take: each is told where it is true, and only there."""

import copy
import os
import subprocess
import sys

import pytest
from support import sample_report as sample

from lipmodel.analysis.lock import lock_words
from lipmodel.output.sentences import sentences
from lipmodel.scene.scene import Scene
from lipmodel.scene.variants import changed

JUMP = {"time_s": 1.0, "from": "C4", "to": "G4", "tension_hz": 300.0, "pressure_kpa": 5.0}
TUNE = {"instrument": {"name": "trumpet"}, "player": {"phrase": [{"note": "B4", "valves": "2"}]}}


def report(**changes):
    whole = copy.deepcopy(sample.report()) | {"jumps": [], "slide": None} | changes
    whole["energy"] |= {"throat_j": 0.1, "valves_j": 0.0}
    whole["inputs"]["player"] = {"tension_hz": [[0.0, 120.0], [9.0, 900.0]]}
    whole["level"] |= {"distance_m": 1.0, "laf_max_db": None, "limited_by_true_peak": False}
    return whole


def glide(jumps):
    rows = [{**row, "state": "free"} for row in sample.report()["notes"]]
    return " ".join(sentences(report(notes=rows, jumps=jumps)))


def test_what_glides_is_held_by_nothing_and_what_leaps_is_not_said_to_glide():
    smooth, leaping = glide([]), glide([JUMP])
    assert "nothing held it." in smooth
    assert "glided and never jumped" in smooth
    assert "nothing held it for long, and it jumped once on the way." in leaping
    assert "glided" not in leaping
    assert "never jumped" not in leaping


@pytest.mark.parametrize(
    ("lock", "words"),
    [
        (0.83, "lock 0.83"), (0.0, "lock 0.00"), (1.0, "lock 1.00"),
        (-1.23, "lock less than 0: the pitch moves further than the lips"),
        (1.35, "lock over 1: the pitch moves against the lips"),
    ],
)  # fmt: skip
def test_a_lock_outside_its_range_is_told_by_what_it_means(lock, words):
    assert lock_words(lock) == words


def test_two_notes_are_two_and_one_that_is_lipped_is_one():
    first = {**sample.report()["notes"][0], "number": 1, "bend_cents": 0.0}
    bent = {**first, "bend_cents": -40.0, "start_s": first["end_s"]}
    other = {**bent, "number": 2}
    assert "Played one note:" in sentences(report(notes=[first, bent]))[0]
    assert "Played two notes:" in sentences(report(notes=[first, other]))[0]


def test_another_note_that_is_bent_is_not_the_one_before_lipped():
    first = {**sample.report()["notes"][0], "number": 1, "bend_cents": 0.0}
    same = {**first, "bend_cents": -40.0, "start_s": first["end_s"]}
    other = {**same, "number": 2}
    assert "Lipped 40 cents down" in " ".join(sentences(report(notes=[first, same])))
    assert "Lipped" not in " ".join(sentences(report(notes=[first, other])))


@pytest.mark.parametrize(
    ("lock", "words"),
    [(0.79, "tighter would raise it by 2.1."), (1.35, "tighter would lower it by 3.5."),
     (-1.22, "tighter would raise it by 22.2.")],
)  # fmt: skip
def test_what_tighter_lips_do_is_told_as_far_as_it_was_measured(lock, words):
    (note,) = sample.report()["notes"][:1]
    told = " ".join(sentences(report(notes=[{**note, "lock": lock}])))
    assert f"lips 10 cents {words}" in told


def test_what_is_held_least_of_all_is_not_told_as_held():
    rows = [{**row, "lock": -0.3 - n, "state": "bent"} for n, row in enumerate(report()["notes"])]
    told = " ".join(sentences(report(notes=rows)))
    assert "None was held: even C4 (written) has lock less than 0: the pitch" in told
    assert "Held most firmly" not in told


def test_as_many_notes_as_a_report_holds_are_at_least_so_many():
    rows = sample.report()["notes"] * 12
    told = sentences(report(notes=rows, jumps=[JUMP] * 59))
    assert told[0].startswith("Played at least 60 notes:")
    assert "The pitch held, then jumped at least 59 times." in told


def test_notes_are_called_as_the_scene_calls_them():
    whole = report(jumps=[JUMP])
    whole["inputs"]["notes"]["read_as"] = "sounding"
    told = " ".join(sentences(whole))
    assert "(written)" not in told
    assert "from Bb3 to F4 at 1.0 s" in told


def test_a_loudness_that_is_met_is_not_told_as_missed():
    for lufs, told in ((-16.04, False), (-16.06, True)):
        whole = report()
        whole["level"] |= {"lufs": lufs, "limited_by_true_peak": True}
        assert any(s.startswith("Kept at") for s in sentences(whole)) == told
    whole["level"] |= {"lufs": None, "limited_by_true_peak": False}
    assert "The sound file is silent: there is no loudness to match." in sentences(whole)


def test_what_changed_in_a_phrase_is_told_key_by_key():
    scene = Scene.from_dict(TUNE)
    lipped = scene.replace({"player.phrase": [{"note": "C5", "valves": "0", "bend_cents": -100.0}]})
    told = changed(scene.inputs(), lipped.inputs(), {"player": {"phrase": []}})
    assert set(told) == {
        "note 1, note: B4 -> C5", "note 1, valves: 2 -> 0", "note 1, bend_cents: 0 -> -100",
    }  # fmt: skip
    longer = scene.replace({"player.phrase": [*TUNE["player"]["phrase"], {"note": "C5"}]})
    told = changed(scene.inputs(), longer.inputs(), {"player": {"phrase": []}})
    assert told == ("player.phrase: the notes B4 -> the notes B4 C5",)


WARM = "from lipmodel.player.warm_up import warm_up; warm_up(print)"


@pytest.mark.slow
def test_compiling_is_told_where_something_is_compiled_and_only_there(tmp_path):
    place = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)}

    def said():
        run = subprocess.run(
            [sys.executable, "-c", WARM], env=place, capture_output=True, text=True, check=True
        )
        return run.stdout

    assert said() == "compiling the time loop (about half a minute) ...\n"
    assert said() == ""
