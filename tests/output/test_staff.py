"""Notes on a staff: the line or space that the books give them."""

import re

import pytest

from lipmodel.output.pages.staff import GAP, NAMED, clef_of, place, staff


def heads(text):
    """(height over the lowest line in steps, ledger lines) of each note of a staff."""
    lines = [float(y) for y in re.findall(r'd="M[\d.]+ ([\d.]+)H', text)]
    base = lines[0]
    found = [float(y) for y in re.findall(r'cy="([\d.-]+)"', text)]
    return [round((base - y) / (GAP / 2)) for y in found], len(lines) - 5


# Staff notation as taught (from memory of any primer): E4 on the lowest line of the treble clef,
# F5 on the highest, G2 and A3 likewise in the bass clef; C4 on one ledger line under the one and
# over the other.  Steps over the lowest line, and short lines needed.
PLACES = {
    "treble": (["E4", "F4", "G4", "B4", "F5"], [0, 1, 2, 4, 8], 0),
    "middle C": (["C4", "E5"], [-2, 7], 1),
    "under it": (["B3", "A3", "C6"], [-3, -4, 12], 1 + 2 + 2),
    "bass": (["G2", "B2", "D3", "F3", "A3", "C4"], [0, 2, 4, 6, 8, 10], 1),
    "low": (["Bb1", "E2"], [-5, -2], 2 + 1),
}


@pytest.mark.parametrize(("names", "steps", "short"), PLACES.values(), ids=PLACES)
def test_a_note_stands_where_the_books_put_it(names, steps, short):
    assert heads(staff([(name, "") for name in names])) == (steps, short)


def test_the_clef_follows_the_notes():
    assert clef_of(["C4", "G4", "C5"]) == "treble"
    assert clef_of(["F2", "Bb2", "F3"]) == "bass"
    # the line a clef names: G4 is the second, F3 the fourth (steps 2 and 6 over the lowest)
    assert NAMED["treble"] == place("G4") - place("E4")
    assert NAMED["bass"] == place("F3") - place("G2")


def test_accidentals_and_words_are_drawn_and_said():
    text = staff([("C4", "0"), ("Bb5", "1"), ("F#4", "2 <3>")], "Slots")
    assert 'aria-label="Slots: C4 0, Bb5 1, F#4 2 &lt;3&gt;"' in text
    signs = re.findall(r'stroke-width="0\.16"', text)
    assert len(signs) == 2
    assert [t for t in re.findall(r">([^<>]*)</text>", text)] == ["0", "1", "2 &lt;3&gt;"]


def test_what_is_no_note_is_refused():
    with pytest.raises(ValueError, match="'H4': expected a note such as C4"):
        staff([("H4", "")])
