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
