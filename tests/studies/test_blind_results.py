"""Results of listeners: read back, told, and refused where they were changed."""

import json

import pytest
from support import compared_scenes, small_compare

from lipmodel.errors import SceneError
from lipmodel.files import tables
from lipmodel.studies.blind_results import read_session, read_sessions, sentences

document = compared_scenes.document  # the same fixture


def test_few_listeners_are_no_group(tmp_path, document):
    path = small_compare.saved(tmp_path, small_compare.results(document, "anna", 9))
    assert "too few" in sentences([read_session(path)])[-1]


def changed(data, *where, to):
    data = json.loads(json.dumps(data))
    table = data
    for key in where[:-1]:
        table = table[key]
    if to is None:
        del table[where[-1]]
    else:
        table[where[-1]] = to
    return data


@pytest.mark.parametrize(
    ("where", "to", "told"),
    [
        (("trials",), None, "trials: missing"),
        (("seed",), "one", 'seed = "one": expected a whole number'),
        (("kind",), "lunch", "not a result of blind listening"),
        (("count",), 12, "not those that follow from seed"),
        (("code",), "bert", "not those that follow from seed"),
        (("sounds", 0, "sha256"), "0" * 64, "expected the name that follows from the sounds"),
        (("trials", 0, "answer"), 7, "trials[1].answer = 7: expected 0 for A or 1 for B"),
        (("trials", 0, "ms"), 1, "the file was changed"),
        (("trials", 0, "x"), 9, "not those that follow"),
        (("score", "right"), 10, "score.right = 10: expected 9, by its answers"),
        (("format",), 2, "format = 2: expected 1"),
    ],
)
def test_a_changed_file_is_refused(tmp_path, document, where, to, told):
    data = changed(small_compare.results(document, "anna", 9), *where, to=to)
    with pytest.raises(SceneError) as caught:
        read_session(small_compare.saved(tmp_path, data))
    (problem,) = caught.value.problems
    assert problem.startswith(str(tmp_path / "result.json"))
    assert told in problem


def test_one_listener_twice_and_mixed_sets_are_told(tmp_path, document):
    data = small_compare.results(document, "anna", 9)
    other = {**document, "sounds": document["sounds"][:2]}
    sums = [s["sha256"] for s in other["sounds"]]
    other["set"] = tables.digest("".join(sums).encode())
    paths = [
        small_compare.saved(tmp_path, data, "1.json"),
        small_compare.saved(tmp_path, data, "2.json"),
        small_compare.saved(tmp_path, small_compare.results(other, "bert", 9), "3.json"),
    ]
    with pytest.raises(SceneError) as caught:
        read_sessions(paths)
    twice, mixed = caught.value.problems
    assert "expected one session of each" in twice
    assert "expected results of one set" in mixed


def test_results_beside_other_sounds_are_refused(tmp_path, document, compared):
    data = small_compare.results(document, "anna", 9)
    there = tmp_path / "set"
    there.mkdir()
    for path in compared.iterdir():
        (there / path.name).write_bytes(path.read_bytes())
    path = small_compare.saved(there, data)
    assert read_session(path).right == 9
    (there / "sound.2.wav").write_bytes((there / "sound.1.wav").read_bytes())
    with pytest.raises(SceneError, match=r"sounds\[2\]\.sha256"):
        read_session(path)
