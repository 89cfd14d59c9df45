"""`lipmodel instruments`: a list for people and for programs."""

import pytest
from support.answers import answer

from lipmodel.commands.main import main

# instruments


def test_instruments_are_listed_with_the_keys_of_the_contract(capsys):
    rows = answer(capsys, "instruments")["instruments"]
    keys = {"name": str, "title": str, "kind": str, "length_m": float, "bell_mm": float}
    keys |= {"valves": int, "slide": bool, "player": str}
    for row in rows:
        for key, kind in keys.items():
            assert type(row[key]) is kind, key
        assert {"bore_mm", "pitched_in", "transposition_semitones"} <= set(row)
        assert row["kind"] in ("instrument", "teaching")
    by_name = {row["name"]: row for row in rows}
    assert {"trumpet", "hailing_cone", "pipe", "cone", "mouthpiece"} <= set(by_name)
    trumpet = by_name["trumpet"]
    assert (trumpet["valves"], trumpet["slide"], trumpet["pitched_in"]) == (3, False, "Bb")
    assert trumpet["transposition_semitones"] == -2
    assert trumpet["bore_mm"] == pytest.approx(11.66)
    assert 1.3 < trumpet["length_m"] < 1.5  # a B flat trumpet, common knowledge
    assert by_name["hailing_cone"]["valves"] == 0


def test_instruments_are_listed_for_people(capsys):
    assert main(["instruments"]) == 0
    told = capsys.readouterr().out
    rows = [line.split(maxsplit=1) for line in told.splitlines()]
    assert ["trumpet", "School trumpet (1.37 m, in Bb, written a tone above, 3 valves)"] in rows
    assert ["trombone", "School trombone (2.77 m, in Bb, read at concert pitch, slide)"] in rows
    assert "School horn in F (3.72 m, in F, written a fifth above, 3 valves)" in told
    assert "in Bb, written a ninth above" in told  # the euphonium, in treble clef
    starts = [line.index(row[1]) for line, row in zip(told.splitlines(), rows, strict=True)]
    assert len(set(starts)) == 1
    assert "Hailing cone" in told
