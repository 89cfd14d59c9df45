"""What a first scene file gets wrong, and the exact words with the cure that `check` answers."""

import pytest

from lipmodel.commands.main import main

# a line in the place of the scene's fourth, what is told after "low.toml:4: not TOML", the column
SLIPS = {
    "curly quotes": ("note = “C4”", '; use straight quotes: note = "C4"', 7),
    "a curly quote at the end": ('note = "C4”', '; use straight quotes: note = "C4"', 10),
    "single curly quotes": ("note = ‘C4’", '; use straight quotes: note = "C4"', 7),
    "low quotes": ("note = „C4“", '; use straight quotes: note = "C4"', 7),
    "angled quotes": ("note = «C4»", '; use straight quotes: note = "C4"', 7),
    "backticks": ("note = `C4`", '; use straight quotes: note = "C4"', 7),
    "a bare note": ("note = C4", '; put the note in quotes: note = "C4"', 7),
    "a bare flat": ("note = Bb3", '; put the note in quotes: note = "Bb3"', 7),
    "a bare sharp": ("note = F#5", '; put the note in quotes: note = "F#5"', 7),
    "a bare note, remarked": (
        "note = C4 # low",
        '; put the note in quotes: note = "C4" # low',
        7,
    ),
    "a bare note after tabs": ("note\t=\tC4", '; put the note in quotes: note = "C4"', 7),
    "a bare word": ("dynamic = mf", '; put the text in quotes: dynamic = "mf"', 10),
    "bare words": ("name = french horn", '; put the text in quotes: name = "french horn"', 7),
    "a bare file": ("bore = hose.toml", '; put the text in quotes: bore = "hose.toml"', 7),
    "a bare tune": ("tune = C4 1, D4 1", '; put the text in quotes: tune = "C4 1, D4 1"', 7),
    "bare valves": ("valves = 1-3", '; put the text in quotes: valves = "1-3"', 9),
    "a decimal comma": ("pressure_kpa = 2,5", "; write 2.5, with a point", 15),
    "a comma in a table": ("vibrato = { rate_hz = 5,5 }", "; write 5.5, with a point", 22),
    "no closing quote": ('note = "C4', '; the closing quote is missing: note = "C4"', 10),
    "no closing quote, remarked": (
        'note = "C4 # low',
        '; the closing quote is missing: note = "C4" # low',
        10,
    ),
    "no closing single quote": ("note = 'C4", "; the closing quote is missing: note = 'C4'", 10),
    "no opening quote": ('note = C4"', '; the opening quote is missing: note = "C4"', 7),
    "a unit": ("length_s = 4 s", "; write 4, without the unit: the key names it", 11),
    "a unit set close": (
        "pressure_kpa = 4kPa",
        "; write 4, without the unit: the key names it",
        15,
    ),
    "nothing before the point": ("length_s = .5", "; write 0.5, with a digit before the point", 11),
    "nothing after the point": ("length_s = 5.", "; write 5.0, with a digit after the point", 11),
    "a leading zero": ("length_s = 05", "; write 5, without a 0 before", 11),
    "yes": ("breath = yes", '; write "true": breath = true', 9),
    "True": ("breath = True", '; write "true": breath = true', 9),
    "a colon": ("note: C4", '; write "=" after the key: note = "C4"', 4),
    "a colon and a number": ("length_s: 4", '; write "=" after the key: length_s = 4', 8),
    "a space of the word processor": (
        "length_s =\u00a05",
        "; write a plain space there: length_s = 5",
        10,
    ),
    "a long minus": ("bend_cents = −5", "; write the plain minus there: bend_cents = -5", 13),
    "backslashes": (
        r'bore = "tubes\hose.toml"',
        '; write "/" in a path: bore = "tubes/hose.toml"',
        13,
    ),
    "no equals sign": ("note C4", ": expected '=' after a key in a key/value pair", 5),
}


def checked(tmp_path, monkeypatch, capsys, data: bytes) -> tuple[int, str, str]:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "low.toml").write_bytes(data)
    code = main(["check", "low.toml"])
    told = capsys.readouterr()
    return code, told.out, told.err


@pytest.mark.parametrize("ending", ["\n", "\r\n"], ids=["unix", "windows"])
@pytest.mark.parametrize("row", SLIPS.values(), ids=SLIPS)
def test_a_slip_is_shown_where_it_is_with_its_cure(tmp_path, monkeypatch, capsys, row, ending):
    line, told, column = row
    lines = ["[instrument]", 'name = "trumpet"', "[[player.phrase]]", line, "start_s = 1", ""]
    data = ending.join(lines).encode()
    shown = line.replace("\t", " ").replace("\u00a0", " ")
    said = f"low.toml:4: not TOML{told}\n    {shown}\n    {' ' * column}^\n"
    assert checked(tmp_path, monkeypatch, capsys, data) == (2, "", said)


ENCODED = {
    "Windows-1252": (
        'a = 1\ntitle = "Hafentür"\n'.encode("cp1252"),
        'low.toml:2: not UTF-8 text at byte 22 ("ü" of Windows-1252); save the file as UTF-8\n'
        '    title = "Hafentür"\n                   ^\n',
    ),
    "UTF-16 without a mark": (
        'title = "Hafen"\n'.encode("utf-16-le"),
        'low.toml:1: UTF-16 text; save the file as UTF-8\n    title = "Hafen"\n    ^\n',
    ),
    "UTF-16": (
        'title = "Hafen"\n'.encode("utf-16"),
        'low.toml:1: UTF-16 text; save the file as UTF-8\n    title = "Hafen"\n    ^\n',
    ),
}


@pytest.mark.parametrize("row", ENCODED.values(), ids=ENCODED)
def test_a_file_of_another_encoding_says_how_to_save_it(tmp_path, monkeypatch, capsys, row):
    data, said = row
    assert checked(tmp_path, monkeypatch, capsys, data) == (2, "", said)


def test_of_a_long_line_the_part_about_the_place_is_shown(tmp_path, monkeypatch, capsys):
    data = ("a" * 500 + " = C4").encode()
    _, _, said = checked(tmp_path, monkeypatch, capsys, data)
    _, line, caret = said.splitlines()
    assert line[caret.index("^") :] == "C4"
    assert len(line) < 80


TRUMPET = '[instrument]\nname = "trumpet"\n'
TROMBONE = '[instrument]\nname = "trombone"\n'
HAND = "whether the lips alone reach it, only a render tells"
HELD = {  # file text, what check says of its notes
    "all in reach": (TRUMPET + '[player]\ntune = "C3 1, Gb3 1, C4 1, Bb4 1, C6 1"\n', []),
    "too low for the valves": (
        TRUMPET + '[player]\ntune = "C4 1, F3 1, F3 1"\n',
        [f'note F3: no fingering of "School trumpet" gives it, the nearest is Gb3; {HAND}'],
    ),
    "too low for the slide": (
        TROMBONE + '[player]\ntune = "E2 1, Eb2 1"\n',
        [f'note Eb2: no slide position of "School trombone" gives it, the nearest is E2; {HAND}'],
    ),
    "between two partials of a bugle": (
        TRUMPET.replace("trumpet", "bugle") + '[player]\ntune = "C4 1, D4 1"\n',
        [f'note D4: no fingering of "Harbour bugle" gives it, the nearest is C4; {HAND}'],
    ),
    "other valves": (
        TRUMPET + 'valves = "2"\n[player]\ntune = "B3 1, D4 1"\n',
        ["note D4: no partial with valves 2 gives it; usual: 1-3"],
    ),
    "a valve too few": (
        TRUMPET + '[[player.phrase]]\nnote = "D4"\nvalves = "0"\n',
        ["note D4: no partial without valves gives it; usual: 1-3"],
    ),
    "bent on purpose": (
        TRUMPET + '[[player.phrase]]\nnote = "D4"\nvalves = "2"\nbend_cents = -40\n',
        [],
    ),
    "a bare pipe": (TRUMPET.replace("trumpet", "hose") + '[player]\ntune = "D4 1"\n', []),
    "a variant": (
        TRUMPET + '[player]\ntune = "C4 1"\n[[variant]]\nname = "low"\nplayer.tune = "F3 1"\n',
        [f'note F3: no fingering of "School trumpet" gives it, the nearest is Gb3; {HAND}'],
    ),
}


@pytest.mark.parametrize("row", HELD.values(), ids=HELD)
def test_notes_without_a_fingering_are_told_before_anything_is_built(
    tmp_path, monkeypatch, capsys, row
):
    def never(*_):
        raise AssertionError

    monkeypatch.setattr("lipmodel.player.build.shared_ladder", never)
    text, expected = row
    code, said, _ = checked(tmp_path, monkeypatch, capsys, text.encode())
    assert code == 0
    assert [line.strip() for line in said.splitlines()[1:] if "note " in line] == expected


SHORT = (
    'slide_travel_mm = 50\n[[section]]\nshape = "cylinder"\nlength_mm = 2000\n'
    "diameter_mm = 12\nslide = true\n"
)
REFUSED = {
    "unheard notes": (
        TRUMPET + '[player]\ntune = "C4 1, C-1 1, G9 1"\n',
        "low.toml: note C-1 sounds at 7 Hz: expected a note that sounds from 25 to 1800 Hz\n"
        "low.toml: note G9 sounds at 11175 Hz: expected a note that sounds from 25 to 1800 Hz\n",
    ),
    "a slide too short for a note": (
        '[instrument]\nbore = "short.toml"\n[[player.phrase]]\nnote = "C4"\nslide_position = 3\n',
        "low.toml: slide position 3 needs 122 mm of slide; this bore has 50 mm\n",
    ),
    "a slide that is led too far": (
        '[instrument]\nbore = "short.toml"\nslide_position = [[0, 1], [1, 3]]\n'
        "[player]\npressure_kpa = 3\ntension_hz = 200\n",
        "low.toml: slide position 3 needs 122 mm of slide; this bore has 50 mm\n",
    ),
}


@pytest.mark.parametrize("row", REFUSED.values(), ids=REFUSED)
def test_what_nobody_can_hold_is_refused(tmp_path, monkeypatch, capsys, row):
    text, said = row
    (tmp_path / "short.toml").write_text(SHORT)
    assert checked(tmp_path, monkeypatch, capsys, text.encode()) == (2, "", said)


BORE = """\
[[section]]
shape = "cylinder"
length_mm = 700
diameter_mm = 12.7
[[section]]
name = "{}"
shape = "{}"
length_mm = 500
"""
CONE = "start_diameter_mm = 12.7\nend_diameter_mm = {}\n"
BELLS = {  # bore file, what check says of the bell
    "a cone": (
        BORE.format("bell", "exponential") + CONE.format(12.3),
        'section[2].end_diameter_mm = 12.3 ("bell"): narrower than the tube before it, 12.7 mm; '
        "123.0 mm?",
    ),
    "points": (
        BORE.format("bell", "points").replace("length_mm = 500\n", "")
        + "points_mm = [[0, 12.7], [500, 12.3]]\n",
        'section[2].points_mm = 12.3 ("bell"): narrower than the tube before it, 12.7 mm; '
        "123.0 mm?",
    ),
    "a cylinder named bell": (
        BORE.format("bell", "cylinder") + "diameter_mm = 12.3\n",
        'section[2].diameter_mm = 12.3 ("bell"): narrower than the tube before it, 12.7 mm; '
        "123.0 mm?",
    ),
    "the last section": (
        BORE.format("horn", "cone") + CONE.format(1.0),
        'section[2].end_diameter_mm = 1 ("horn"): narrower than the tube before it, 12.7 mm',
    ),
    "a bell that widens": (BORE.format("bell", "cone") + CONE.format(123), ""),
    "a thinner pipe at the end": (BORE.format("end", "cylinder") + "diameter_mm = 12.6\n", ""),
}


@pytest.mark.parametrize("row", BELLS.values(), ids=BELLS)
def test_a_bell_that_narrows_is_told_with_what_may_be_meant(tmp_path, monkeypatch, capsys, row):
    text, expected = row
    code, said, _ = checked(tmp_path, monkeypatch, capsys, text.encode())
    assert code == 0
    told = [line.strip() for line in said.splitlines() if "narrower" in line]
    assert told == [expected] * bool(expected)


def test_resonances_say_which_variant_they_are_of(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    variants = "".join(f'[[variant]]\nname = "{n}"\nair.breath = true\n' for n in ("Ann", "Bo"))
    for text, expected in ((variants, True), ("", False)):
        (tmp_path / "low.toml").write_text(TRUMPET + '[player]\ntune = "C4 1"\n' + text)
        assert main(["resonances", "low.toml"]) == 0
        first = capsys.readouterr().out.splitlines()[0]
        said = first == "low.toml: as written; --variant shows 2 others: Ann, Bo"
        assert said == expected
