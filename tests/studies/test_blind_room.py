"""A room that listens blind: the chance is exact, a changed file is refused."""

import json
from itertools import product

import numpy as np
import pytest
from scipy import stats
from support import compared_scenes, small_compare

from lipmodel.commands.main import main
from lipmodel.errors import SceneError
from lipmodel.studies import blind_test
from lipmodel.studies.blind_room import chance_of, read_room, right_of

document = compared_scenes.document  # the same fixture

ROUNDS = {
    "all right": [(12, 0, 0)] * 6,
    "all wrong": [(0, 9, 0), (7, 0, 1)] * 3,
    "mixed": [(10, 12, 1), (3, 19, 1), (17, 5, 0), (11, 11, 0), (20, 2, 0), (8, 13, 1), (5, 6, 0)],
}


@pytest.mark.parametrize("trials", ROUNDS.values(), ids=ROUNDS)
def test_the_chance_is_the_share_of_all_coins(trials):
    fallen = product((0, 1), repeat=len(trials))
    scores = [sum(t[x] for t, x in zip(trials, coins, strict=True)) for coins in fallen]
    assert chance_of(trials) == np.mean(np.array(scores) >= right_of(trials))


def test_one_listener_alone_is_the_binomial_test():
    trials = [(1, 0, 0)] * 5 + [(1, 0, 1)]
    expected = stats.binomtest(5, 6, 0.5, "greater").pvalue
    # sums of powers of two: exact
    assert chance_of(trials) == pytest.approx(expected, rel=1e-12)


def test_neighbours_who_copy_count_as_one():
    alone, copied = [(1, 0, 0)] * 6, [(30, 0, 0)] * 6
    assert chance_of(copied) == chance_of(alone) == 1 / 64


def saved(folder, document, **changes):
    data = {
        "kind": "blind room", "format": 1, "title": document["title"], "set": document["set"],
        "sounds": [{k: s[k] for k in ("name", "sha256")} for s in document["sounds"]], "a": 0,
        "b": 1, "trials": [dict(zip(("hands_a", "hands_b", "x"), (9, 2, 0), strict=True))] * 6,
    }  # fmt: skip
    hands = [f"{t['hands_a']},{t['hands_b']},{t['x']}" for t in data["trials"]]
    data["seal"] = blind_test.seal("/".join([data["set"], "0", "1", *hands]))
    path = folder / "room.json"
    path.write_text(json.dumps(data | changes), encoding="utf-8")
    return path


def test_a_round_is_read_and_told(tmp_path, document):
    told = read_room(saved(tmp_path, document)).sentence
    assert "54 of 66 hands right in 6 trials" in told
    assert told.endswith("p = 0.0156: the difference is very likely heard.")


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"a": 7}, "a, b: expected the numbers of two of its sounds"),
        ({"a": 1, "b": 0}, "expected the seal of these hands: the file was changed"),
        ({"trials": []}, "trials: expected 5 to 12 trials, found 0"),
        (
            {"trials": [{"hands_a": 9, "hands_b": 2, "x": 3}] * 6},
            "trials[1].x = 3: expected 0 to 1",
        ),
        ({"kind": "lunch"}, "not a result of blind listening"),
        ({"set": "0"}, "expected the name that follows from the sounds"),
    ],
)
def test_a_changed_round_is_refused(tmp_path, document, changes, told):
    with pytest.raises(SceneError) as caught:
        read_room(saved(tmp_path, document, **changes))
    assert told in str(caught.value)


def test_a_folder_of_results_is_read_together(tmp_path, document, capsys):
    for name, right in (("anna", 9), ("ben", 6)):
        small_compare.saved(tmp_path, small_compare.results(document, name, right), f"{name}.json")
    saved(tmp_path, document)
    (tmp_path / "notes.json").write_text('{"kind": "lunch"}', encoding="utf-8")
    assert main(["compare", "--read", str(tmp_path)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0].endswith("2 listeners")
    assert told[1].startswith("anna: 9 of 10 right")
    assert "the whole room" in told[-1]


def test_a_folder_without_results_says_so(tmp_path, capsys):
    (tmp_path / "notes.json").write_text("{}", encoding="utf-8")
    assert main(["compare", "--read", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"{tmp_path}: no result of blind listening in this folder; expected")
