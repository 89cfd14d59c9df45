"""Note names, frequencies and cents."""

import pytest

from lipmodel.units import (
    cents,
    nearest_note,
    note_frequency,
    note_name,
    parse_note,
    sharp_or_flat,
)

# Equal temperament, A4 = 440 Hz (ISO 16:1975); the frequencies as every table prints them, from
# memory, and the note numbers of the MIDI 1.0 specification (middle C = 60), from memory.
NOTES = {
    "C-1": (0, 8.1758),
    "A0": (21, 27.500),
    "C2": (36, 65.406),
    "E2": (40, 82.407),
    "Bb2": (46, 116.541),
    "C3": (48, 130.813),
    "E3": (52, 164.814),
    "F#3": (54, 184.997),
    "Gb3": (54, 184.997),
    "Bb3": (58, 233.082),
    "C4": (60, 261.626),
    "C#4": (61, 277.183),
    "Eb4": (63, 311.127),
    "A4": (69, 440.000),
    "Bb4": (70, 466.164),
    "B4": (71, 493.883),
    "C5": (72, 523.251),
    "Bb5": (82, 932.328),
    "C8": (108, 4186.009),
    "G9": (127, 12543.854),
}
ALLOWED = 'expected a note such as "C4", "Bb3" or "F#5"'
NO_H = '; "H" is not used here: write "B" for B natural, "Bb" for B flat; did you mean '
B_HERE = ' "B" is B natural here, "Bb" is B flat'
BAD_NOTES = {
    "": ALLOWED,
    "C": ALLOWED,
    "4": ALLOWED,
    "C44": ALLOWED,
    "Cbb4": ALLOWED,
    "C##4": ALLOWED,
    "do": ALLOWED + '; did you mean "C4" (with its octave)?',
    "C 4": ALLOWED,
    "C4 D4": ALLOWED,
    "C--1": ALLOWED,
    "H4": ALLOWED + NO_H + '"B4"?',
    "h3": ALLOWED + NO_H + '"B3"?',
    "Hb3": ALLOWED + NO_H + '"Bb3"?',
    "His3": ALLOWED + NO_H + '"B#3"?',
    "Cis4": ALLOWED + '; did you mean "C#4"?' + B_HERE,
    "Es4": ALLOWED + '; did you mean "Eb4"?' + B_HERE,
    "as3": ALLOWED + '; did you mean "Ab3"?' + B_HERE,
    "Fis": ALLOWED + '; did you mean "F#4" (with its octave)?' + B_HERE,
    "Ré4": ALLOWED + '; did you mean "D4"?',
    "Sib3": ALLOWED + '; did you mean "Bb3"?',
    "fa#4": ALLOWED + '; did you mean "F#4"?',
    "B flat 3": ALLOWED + '; did you mean "Bb3"?',
    "C-sharp 4": ALLOWED + '; did you mean "C#4"?',
    "do" + 30 * " " + "4": ALLOWED,
    "c4": ALLOWED + '; write the letter as a capital: "C"',
    "bb3": ALLOWED + '; write the letter as a capital: "B"',
    "Cb-1": 'expected a note from "C-1" to "G9"',
    "G#9": 'expected a note from "C-1" to "G9"',
    "A9": 'expected a note from "C-1" to "G9"',
}
SAID = {
    12.4: "12 cents sharp",
    1.2: "1 cent sharp",
    0.4: "in tune",
    0.0: "in tune",
    -0.49: "in tune",
    -0.6: "1 cent flat",
    -3.0: "3 cents flat",
    -100.0: "100 cents flat",
}


@pytest.mark.parametrize(("name", "row"), NOTES.items(), ids=NOTES)
def test_a_note_has_the_number_and_the_frequency_of_the_table(name, row):
    number, frequency = row
    assert parse_note(name) == number
    # half a unit of the last printed digit
    digits = 4 if frequency < 10 else 3
    assert note_frequency(number) == pytest.approx(frequency, abs=0.501 * 10**-digits)


@pytest.mark.parametrize("a4", [380.0, 415.0, 442.0, 480.0])
def test_all_notes_move_with_the_tuning_note(a4):
    assert note_frequency(69, a4) == a4
    assert note_frequency(57, a4) == pytest.approx(a4 / 2, rel=1e-15)
    assert nearest_note(a4, a4) == (69, pytest.approx(0, abs=1e-9))


def test_signs_are_read_in_both_forms():
    assert parse_note("B♭3") == parse_note("Bb3") == 58
    assert parse_note("F♯5") == parse_note("F#5") == 78
    assert parse_note("Cb4") == parse_note("B3") == 59
    assert parse_note("B#3") == parse_note("C4") == 60
    assert parse_note("E#4") == parse_note("F4")
    assert parse_note(" C4 ") == 60


@pytest.mark.parametrize(("text", "message"), BAD_NOTES.items(), ids=[*map(repr, BAD_NOTES)])
def test_what_is_no_note_is_refused_with_what_is_allowed(text, message):
    with pytest.raises(ValueError) as caught:  # noqa: PT011, the whole text is compared
        parse_note(text)
    assert str(caught.value) == message


@pytest.mark.parametrize("spelling", ["flats", "sharps"])
def test_every_note_comes_back_from_its_own_name(spelling):
    assert [parse_note(note_name(m, spelling)) for m in range(128)] == list(range(128))


def test_the_black_keys_are_spelt_as_asked():
    black = (61, 63, 66, 68, 70)
    assert [note_name(m) for m in black] == ["Db4", "Eb4", "Gb4", "Ab4", "Bb4"]
    assert [note_name(m, "sharps") for m in black] == ["C#4", "D#4", "F#4", "G#4", "A#4"]
    assert note_name(71) == note_name(71, "sharps") == "B4"


@pytest.mark.parametrize("off", [-49.0, -3.25, 0.0, 17.5, 49.0])
def test_the_nearest_note_and_its_cents_give_the_frequency_back(off):
    for m in range(128):
        frequency = note_frequency(m + off / 100)
        assert nearest_note(frequency) == (m, pytest.approx(off, abs=1e-8))


def test_half_way_between_two_notes_the_upper_one_is_nearest():
    number, off = nearest_note(note_frequency(69.5))
    assert (number, off) == (70, pytest.approx(-50.0, abs=1e-9))


def test_cents_count_up_when_sharp():
    assert cents(880, 440) == 1200.0
    assert cents(220, 440) == -1200.0
    # a fifth of 3:2 is 701.955 cents, a syntonic comma of 81:80 21.506 (textbook)
    assert cents(3, 2) == pytest.approx(701.955, abs=5e-4)
    assert cents(81, 80) == pytest.approx(21.506, abs=5e-4)


@pytest.mark.parametrize(("value", "words"), SAID.items(), ids=map(str, SAID))
def test_cents_are_said_as_sharp_or_flat(value, words):
    assert sharp_or_flat(value) == words
