"""The whole bore file: pitch, ranges and a byte order mark."""

import pytest
from support.bore_files import cylinder

from lipmodel.bore.bore_file import parse_bore, read_bore_file
from lipmodel.errors import SceneError

PITCHES = {"C": 0, "Bb": -2, "A": -3, "F": -7, "Eb": -9, "B♭": -2}


@pytest.mark.parametrize("pitch", PITCHES)
def test_the_transposition_follows_the_pitch_unless_it_is_given(pitch):
    data = {"section": [cylinder()], "pitched_in": pitch}
    assert parse_bore(data, "b.toml", ".").transposition_semitones == PITCHES[pitch]
    given = parse_bore({**data, "transposition_semitones": 3}, "b.toml", ".")
    assert given.transposition_semitones == 3


@pytest.mark.parametrize("length", [0.01, 20_000])
def test_both_ends_of_a_range_are_allowed(length):
    spec = parse_bore(
        {"section": [cylinder(length_mm=length), cylinder(length_mm=50)]}, "b.toml", "."
    )
    assert spec.section[0].length_mm == length


def test_a_file_with_a_byte_order_mark_is_read(tmp_path):
    file = tmp_path / "pipe.toml"
    file.write_bytes(b"\xef\xbb\xbf" + b'[[section]]\r\nshape = "cylinder"\r\nlength_mm = 50\r\n')
    with pytest.raises(SceneError, match=r"section\[1\].diameter_mm: missing"):
        read_bore_file(file)
