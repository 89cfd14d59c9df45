"""The one-line tune: its ten examples, slurs, marks, swells, and what is refused."""

import pytest
from pydantic import ValidationError

from lipmodel.errors import SceneError
from lipmodel.scene import tune
from lipmodel.scene.scene import Scene
from lipmodel.scene.tune import parse_tune

EXAMPLES = [line.strip() for line in tune.__doc__.split("Ten examples:")[1].splitlines()]
EXAMPLES = [line.split("    ")[0] for line in EXAMPLES if line]


def test_all_ten_examples_of_its_description_are_tunes():
    assert len(EXAMPLES) == 10
    for example in EXAMPLES:
        assert parse_tune(example)[-1].end > 0


def test_a_slur_goes_from_each_note_inside_into_the_next():
    found = parse_tune("C4 1, (D4 1, E4 0.5, F4 1), G4 1")
    assert [item.slur for item in found] == [False, True, True, False, False]
    assert [item.start for item in found] == [0, 1, 2, 2.5, 3.5]


def test_marks_stand_after_the_beats():
    found = parse_tune("C4 1., D4 1_, E4 1^, F4 1.5, G4 1', A4 2^'")
    assert [item.articulation for item in found] == [
        "detached", "legato", "accent", None, None, "accent",
    ]  # fmt: skip
    assert [item.length for item in found] == [1, 1, 1, 1.5, 1, 2]
    assert [item.breath for item in found] == [False] * 4 + [True, True]


def test_a_dynamic_holds_from_its_note_on_and_a_swell_goes_over_its_notes():
    found = parse_tune("C4 1, p D4 1, - 1, < E4 1, F4 1, f G4 1, > A4 2, pp")
    assert [item.dynamics for item in found] == [
        None, ((1, "p"),), ((2, "p"),), ((3, "p"), (5, "f")), ((3, "p"), (5, "f")), ((5, "f"),),
        ((6, "f"), (8, "pp")),
    ]  # fmt: skip


REFUSED = {
    "(C4 1, D4 1": 'expected ")" to end the slur',
    "C4 1)": 'item 1 "C4 1)": expected "(" before ")"',
    "(C4 1)": 'item 1 "(C4 1)": expected two notes or more between "(" and ")"',
    "(C4 1, (D4 1))": 'item 2 "(D4 1))": expected ")" before another "("',
    "(C4 1, - 1, D4 1)": 'item 2 "- 1": expected neither a rest nor a breath inside a slur',
    "(C4 1', D4 1)": 'item 2 "D4 1)": expected neither a rest nor a breath inside a slur',
    "(C4 1, D4 1.)": 'item 2 "D4 1.)": expected a mark on the first note of a slur only',
    "p < C4 1, pp D4 1": 'item 2 "pp D4 1": expected a dynamic louder than p after "<"',
    "p > C4 1, f D4 1": 'item 2 "f D4 1": expected a dynamic softer than p after ">"',
    "f > C4 1, > D4 1": 'item 2 "> D4 1": expected a dynamic, such as "f", before another ">"',
    "f > C4 1, D4 1": 'expected a dynamic, such as "f", to end the ">"',
    "C4 1..": 'item 1 "C4 1..": expected at most one of ". _ ^" and one "\'", after a note',
    "- 1.": 'item 1 "- 1.": expected at most one of ". _ ^" and one "\'", after a note',
    "f C4": f'item 1 "f C4": {tune.EXPECTED}',
    "pp": "expected at least one note",
}


@pytest.mark.parametrize("written", REFUSED)
def test_what_no_player_could_read_is_refused_in_one_line(written):
    with pytest.raises((ValueError, ValidationError)) as refused:
        parse_tune(written)
    error = refused.value
    told = error.errors()[0]["msg"] if isinstance(error, ValidationError) else str(error)
    assert told == REFUSED[written]


def scene(player):
    return Scene.from_dict({"instrument": {"name": "trumpet"}, "player": player})


def test_a_breath_shortens_its_note_and_a_swell_counts_in_seconds():
    player = {"tune": "p < C4 2', D4 1, f E4 1", "tempo_bpm": 60, "dynamic": "mp"}
    first, second, third = scene(player).player.notes
    assert (first.length_s, second.start_s) == (1.75, 2.0)
    assert first.dynamic == ((0.0, "p"), (3.0, "f"))
    assert second.dynamic == ((-2.0, "p"), (1.0, "f"))
    assert third.dynamic == "f"


def test_a_phrase_may_slur_and_swell_too():
    notes = [
        {"note": "C4", "slur": True, "dynamic": [[0.0, "p"], [1.0, "f"]]},
        {"note": "G4", "articulation": "accent"},
    ]
    first, second = scene({"phrase": notes}).player.notes
    assert (first.slur, first.dynamic) == (True, ((0.0, "p"), (1.0, "f")))
    assert (second.slur, second.articulation) == (False, "accent")


PHRASES = {
    "a slur into nothing": (
        [{"note": "C4", "slur": True}],
        "player.phrase[1].slur = true: expected false: no note comes after",
    ),
    "a slur over a silence": (
        [{"note": "C4", "slur": True}, {"note": "D4", "start_s": 2.0}],
        "player.phrase[2].start_s = 2.0: expected 1 s: the note before is slurred into this one",
    ),
    "a dynamic that is none": (
        [{"note": "C4", "dynamic": [[0.0, "p"], [1.0, "loud"]]}],
        'player.phrase[1].dynamic[2][2] = "loud": expected one of pp, p, mp, mf, f, ff',
    ),
    "an articulation that is none": (
        [{"note": "C4", "articulation": "legatto"}],
        'player.phrase[1].articulation = "legatto": expected one of soft, tongued, legato, '
        "detached, accent; did you mean legato?",
    ),
}


@pytest.mark.parametrize("name", PHRASES)
def test_a_wrong_phrase_is_told_with_its_place(name):
    phrase, told = PHRASES[name]
    with pytest.raises(SceneError) as refused:
        scene({"phrase": phrase})
    assert str(refused.value).split(": ", 1)[1] == told
