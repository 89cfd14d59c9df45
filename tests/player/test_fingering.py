"""Usual valves against a beginner's chart."""

import pytest
from support.beginners_chart import CHART

from lipmodel.bore import instruments
from lipmodel.player.fingering import combinations_of, fundamental, usual
from lipmodel.units import parse_note

TRUMPET = instruments.spec("trumpet")


def sounding(written: str) -> int:
    return parse_note(written) + TRUMPET.transposition_semitones


@pytest.mark.parametrize(("note", "valves"), CHART.items(), ids=CHART)
def test_the_usual_fingering_is_the_beginners(note, valves):
    assert usual(TRUMPET, sounding(note)).valves == valves


def test_the_chart_has_every_note_of_the_range():
    numbers = [parse_note(note) for note in CHART]
    assert numbers == list(range(parse_note("F#3"), parse_note("C6") + 1))


def test_no_fingering_reaches_between_pedal_note_and_the_lowest_note():
    for written in ("F3", "E3", "D3", "C#3"):
        assert usual(TRUMPET, sounding(written)) is None


def test_without_valves_only_the_open_notes_are_there():
    pipe = instruments.spec("pipe")
    base = fundamental(pipe)
    reached = [m - base for m in range(base, base + 44) if usual(pipe, m) is not None]
    assert reached == [0, 12, 19, 24, 28, 31, 36, 38, 40, 43]


def test_every_combination_is_listed_once_and_the_third_valve_alone_comes_after_first_and_second():
    found = combinations_of(TRUMPET)
    assert sorted(v for v, _ in found) == ["0", "1", "12", "123", "13", "2", "23", "3"]
    assert dict(found) == {
        "0": 0, "2": 1, "1": 2, "12": 3, "3": 3, "23": 4, "13": 5, "123": 6,
    }  # fmt: skip
    order = [v for v, _ in found]
    assert order.index("12") < order.index("3")
