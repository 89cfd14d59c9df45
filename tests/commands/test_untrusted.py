"""Scenes from anywhere: no file outside their folder, no more memory than a scene needs, and no
text of theirs that a page runs.
"""

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from lipmodel.commands.main import main
from lipmodel.commands.parser import READ_FILES
from lipmodel.errors import SceneError
from lipmodel.files import paths, schema
from lipmodel.files.paths import files_named, outside_allowed
from lipmodel.scene.scene import read_scene

ROOT = str(Path(paths.__file__).parents[2])
PIPE = '[[section]]\nshape = "cylinder"\nlength_mm = 700\ndiameter_mm = 12\n'
CSV = "x_mm,diameter_mm\n0,10\n400,12\n"
POINTS = '[[section]]\nshape = "points"\nfile = "{}"\n'
BLOWN = "[player]\npressure_kpa = 4\ntension_hz = 300\n[sound]\nlength_s = 0.1\n"
SCENE = '[instrument]\nbore = "{}"\n' + BLOWN
TRUMPET = '[instrument]\nname = "trumpet"\n' + BLOWN
PARTS = ("mouthpiece", "leadpipe", "bell")


@pytest.fixture
def harbour(tmp_path, monkeypatch):
    """tmp/class/ with the scenes, and files beside it, which they may not name."""
    (tmp_path / "class").mkdir()
    (tmp_path / "pipe.toml").write_text(PIPE)
    (tmp_path / "profile.csv").write_text(CSV)
    (tmp_path / "other.toml").write_text(TRUMPET)
    monkeypatch.chdir(tmp_path / "class")
    return tmp_path


def hostile_files(outside: Path) -> dict:
    """{file name: text} of a file for every key that names files, at `outside`."""
    pipe, profile, other = (outside / n for n in ("pipe.toml", "profile.csv", "other.toml"))
    files = {"bore.toml": SCENE.format(pipe), "profile.toml": POINTS.format(profile)}
    for part in PARTS:
        trumpet = TRUMPET.replace("[player]", f'{part} = "{pipe}"\n[player]')
        files[f"{part}.toml"] = trumpet
    variant = f'[[variant]]\nname = "other"\ninstrument.bore = "{pipe}"\n'
    files["variant.toml"] = TRUMPET + variant
    return files | {"lesson.toml": f'scenes = ["{other}"]\n'}


KEYS = tuple(hostile_files(Path("..")))
REFUSED = ("outside", "absolute path", "no such file")


@pytest.mark.parametrize("absolute", [False, True], ids=["above", "absolute"])
@pytest.mark.parametrize("name", KEYS)
def test_no_key_leads_out_of_the_folder_unless_it_is_allowed(harbour, capsys, name, absolute):
    outside = harbour if absolute else Path("..")
    Path(name).write_text(hostile_files(outside)[name])
    assert main(["check", name]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"{name}: ")
    assert ("absolute path" if absolute else "or --allow-outside") in line
    assert main(["check", name, "--allow-outside"]) == 0, capsys.readouterr().err
    # and not for the next file
    assert main(["check", name]) == 2


@pytest.mark.parametrize("folder", [False, True], ids=["file", "folder"])
@pytest.mark.parametrize("name", KEYS)
def test_no_link_leads_out_of_the_folder(harbour, capsys, name, folder):
    if folder:
        Path("away").symlink_to(harbour)
        text = hostile_files(Path("away"))[name]
    else:
        for file in ("pipe.toml", "profile.csv", "other.toml"):
            Path(file).symlink_to(harbour / file)
        text = hostile_files(Path("."))[name]
    Path(name).write_text(text)
    assert main(["check", name]) == 2
    assert "outside" in capsys.readouterr().err
    assert main(["check", name, "--allow-outside"]) == 0


def test_a_link_to_a_link_that_goes_round_is_no_file(harbour, capsys):
    Path("a.toml").symlink_to("b.toml")
    Path("b.toml").symlink_to("a.toml")
    Path("scene.toml").write_text(SCENE.format("a.toml"))
    assert main(["check", "scene.toml"]) == 2
    assert "no such file" in capsys.readouterr().err
    assert main(["check", "a.toml"]) == 2
    assert capsys.readouterr().err == "a.toml: no such file\n"


def test_a_bore_file_with_a_profile_above_it_is_refused_inside_a_scene_too(harbour, capsys):
    Path("tubes").mkdir()
    Path("tubes/tube.toml").write_text(POINTS.format("../../profile.csv"))
    Path("scene.toml").write_text(SCENE.format("tubes/tube.toml"))
    assert main(["check", "scene.toml"]) == 2
    assert capsys.readouterr().err.startswith("tubes/tube.toml: section[1].file")
    assert main(["check", "scene.toml", "--allow-outside"]) == 0


def test_permission_goes_with_a_scene_and_ends_with_its_block(harbour):
    Path("scene.toml").write_text(SCENE.format("../pipe.toml"))
    with outside_allowed(), files_named() as named:
        scene = read_scene("scene.toml")
    assert [p.resolve() for p in set(named)] == [harbour / "pipe.toml"]
    assert scene.spec().section[0].length_mm == 700  # read again, after the block
    with pytest.raises(SceneError, match="outside"):
        read_scene("scene.toml")


def test_every_command_that_reads_files_has_the_option(capsys):
    for command in READ_FILES:
        with pytest.raises(SystemExit) as left:
            main([command, "--help"])
        assert left.value.code == 0
        assert "--allow-outside" in capsys.readouterr().out


READERS = {  # command: words after the name of a scene with a bore outside
    "render": ["--out", "out"],
    "resonances": ["--json"],
    "chart": ["--json"],
    "bundle": ["--out", "out.zip"],
}


@pytest.mark.parametrize("command", READERS)
def test_commands_refuse_the_outside_and_take_it_when_it_is_allowed(harbour, capsys, command):
    Path("scene.toml").write_text(SCENE.format("../pipe.toml"))
    argv = [command, "scene.toml", *READERS[command]]
    assert main(argv) == 2
    assert "outside the scene's project folder" in capsys.readouterr().err
    assert not Path("out").exists()
    assert not Path("out.zip").exists()
    assert main([*argv, "--allow-outside"]) == 0


def test_a_bundle_of_what_lies_outside_leads_nowhere_outside(harbour, tmp_path_factory, capsys):
    import io
    import zipfile

    from lipmodel.output.bundle import _scene_files

    Path("scene.toml").write_text(SCENE.format("../pipe.toml"))
    Path("link.toml").symlink_to("tube.toml")
    Path("tube.toml").write_text(PIPE)
    Path("linked.toml").write_text(SCENE.format("link.toml"))
    for name in ("scene.toml", "linked.toml"):
        with outside_allowed(name == "scene.toml"):
            inside, entries = _scene_files(Path(name))
        away = tmp_path_factory.mktemp("away")
        with zipfile.ZipFile(io.BytesIO(), "w") as archive:
            for entry, data in entries.items():
                archive.writestr(entry, data)
                (away / entry).parent.mkdir(parents=True, exist_ok=True)
                (away / entry).write_bytes(data)
        # what the bundle holds is found without any option
        assert read_scene(away / inside).spec().section[0].length_mm == 700
    Path("far.toml").write_text(SCENE.format(harbour / "pipe.toml"))
    assert main(["bundle", "far.toml", "--allow-outside", "--out", "far.zip"]) == 2
    assert "by an absolute path, which nobody else has" in capsys.readouterr().err


def fifo(path):
    os.mkfifo(path)


SPECIAL = {"a pipe": fifo, "a device": lambda path: Path(path).symlink_to("/dev/zero")}
WAYS = {
    "check": ["check", "odd.toml"],
    "render": ["render", "odd.toml", "--out", "out"],
    "resonances": ["resonances", "odd.toml"],
    "lesson": ["lesson", "odd.toml", "--out", "out.html"],
    "results": ["compare", "--read", "odd.toml"],
    "measured": ["resonances", "pipe", "--against", "odd.toml", "--out", "out"],
}


@pytest.mark.parametrize("make", SPECIAL.values(), ids=SPECIAL)
@pytest.mark.parametrize("argv", WAYS.values(), ids=WAYS)
def test_a_pipe_and_a_device_are_no_files(harbour, capsys, make, argv):
    make("odd.toml")
    assert main(argv) == 2
    assert capsys.readouterr().err == "odd.toml: not a plain file\n"


@pytest.mark.parametrize("make", SPECIAL.values(), ids=SPECIAL)
@pytest.mark.parametrize("text", [SCENE.format("odd"), POINTS.format("odd")])
def test_no_file_names_a_pipe_or_a_device(harbour, capsys, make, text):
    make("odd")
    Path("scene.toml").write_text(text)
    assert main(["check", "scene.toml", "--allow-outside"]) == 2
    assert "no such file" in capsys.readouterr().err


def test_sounds_beside_a_result_are_plain_files(tmp_path):
    from lipmodel.files import tables

    fifo(tmp_path / "01.wav")
    with pytest.raises(OSError):  # noqa: PT011 - no words, the caller has them
        tables.digest_of(tmp_path / "01.wav")


LONG = 5_000_001
LARGE = {  # what is read whole: the command, and what is expected in its place
    "scene": (["check", "large.toml"], "a TOML file"),
    "profile": (["check", "bore.toml"], "a table of two columns"),
    "results": (["compare", "--read", "large.toml"], "a file as the blind page saves it"),
    "measured": (
        ["resonances", "pipe", "--against", "large.toml", "--out", "out"],
        "a table of frequencies and magnitudes",
    ),
}


@pytest.mark.parametrize("row", LARGE.values(), ids=LARGE)
def test_a_large_file_is_refused_before_it_is_read(harbour, capsys, monkeypatch, row):
    argv, expected = row
    Path("bore.toml").write_text(POINTS.format("large.toml"))
    with open("large.toml", "wb") as file:
        file.truncate(LONG)  # nothing is written: a hole
    assert main(argv) == 2
    assert capsys.readouterr().err.endswith(f"MB; expected {expected}\n")


def many(unit: str, size=3_900_000) -> str:
    return unit * (size // len(unit))


SECTION = '[[section]]\nshape = "cylinder"\nlength_mm = 100\ndiameter_mm = 10\n'
BLOWING = '[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 5\ntension_hz = 440\n'
# the one sentence about each list or number that would take gigabytes or hours
BOUNDS = {
    "breakpoints": (
        BLOWING.replace("440", "[" + ",".join(f"[{i * 0.001}, 440]" for i in range(10_001)) + "]"),
        "player.tension_hz = [[0.0, 440], [0.001, 440], [0.002, 44...]: expected a number from 20 "
        "to 2000 Hz, or breakpoints [[time_s, value], ...]",
    ),
    "points": (
        '[[section]]\nshape = "points"\npoints_mm = ['
        + ",".join(f"[{i}, 10]" for i in range(10_001))
        + "]\n",
        "section[1].points_mm = [[0, 10], [1, 10], [2, 10], [3, 10], ...]: expected a list of at "
        "least two [x, diameter]",
    ),
    "points in all": (
        ('[[section]]\nshape = "points"\npoints_mm = ['
         + ",".join(f"[{i}, 10]" for i in range(8000)) + "]\n") * 3,
        "section: 24000 points in all; expected up to 20000",
    ),
    "sections": (SECTION * 101, "section: expected up to 100 sections, found 101"),
    "ten thousand sections": (
        many("[[section]]\n", 120_000), "section: expected up to 100 sections, found 10000"
    ),
    "notes": (
        '[instrument]\nname = "trumpet"\n' + '[[player.phrase]]\nnote = "C4"\n' * 5001,
        "player.phrase: expected up to 5000 notes, found 5001",
    ),
    "tune": (
        '[instrument]\nname = "trumpet"\n[player]\ntune = "' + "C4 1, " * 5001 + '"\n',
        'player.tune = "C4 1, C4 1, C4 1, C4 1, C4 1, C4 1, C...": expected up to 5000 items',
    ),
    "variants": (
        BLOWING + "".join(f'[[variant]]\nname = "v{i}"\n' for i in range(51)),
        "variant: expected up to 50 tables [[variant]]",
    ),
    "scenes of a lesson": (
        "scenes = [" + '"other.toml",' * 41 + "]\n",
        "scenes = [\"other.toml\", \"other.toml\", \"other.t...]: expected 1 to 40 scene files",
    ),
    "copies": (
        BLOWING + "[sound]\nalso = [" + many('"mp3",', 60_000) + "]\n",
        "sound.also: expected up to 3 kinds, found 10000",
    ),
    "marks of valves": (
        SECTION + "valves = [" + many("[1, 1],", 70_000) + "]\n",
        "section[1].valves: expected up to 4 valves, found 10000",
    ),
    "keys": (
        BLOWING + "".join(f"k{i} = 1\n" for i in range(50_000)),
        "player: 50002 keys; expected up to 200",
    ),
    "columns": (
        BLOWING + "[map]\ncolumns = 1001\n",
        "map.columns = 1001: expected a whole number from 2 to 1000",
    ),
    "rows": (
        BLOWING + "[map]\nrows = 1001\n", "map.rows = 1001: expected a whole number from 2 to 1000"
    ),
    "rate": (
        BLOWING + "[sound]\nrate_hz = 1000000000\n",
        "sound.rate_hz = 1000000000: expected a whole number from 22050 to 192000 Hz",
    ),
    "length of a tube": (
        SECTION.replace("100", "16000") * 4,
        "section: the whole bore is 64000 mm long; expected from 10 to 50000 mm",
    ),
    "length of a note": (
        '[instrument]\nname = "trumpet"\n[[player.phrase]]\nnote = "C4"\nlength_s = 1e6\n',
        "player.phrase[1].length_s = 1000000.0: expected a number from 0.02 to 600 s",
    ),
    "depth": ("a = " + "[" * 21 + "]" * 21, "not TOML: nested too deeply"),
    "depth of keys": ("a." * 100_000 + "a = 1", "not TOML: nested too deeply"),
    "digits": ("a = " + "1" * 100_000, "not TOML: a whole number of thousands of digits"),
    "a name without end": (
        SCENE.format(many("x/") + "a.toml"),
        'instrument.bore = "x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/x/x...": expected the name of a file',
    ),
}  # fmt: skip


@pytest.mark.parametrize("row", BOUNDS.values(), ids=BOUNDS)
def test_what_would_take_too_much_is_refused_with_a_sentence(harbour, capsys, row):
    text, sentence = row
    Path("other.toml").write_text(TRUMPET)
    Path("large.toml").write_text(text)
    assert main(["check", "large.toml"]) == 2
    told = capsys.readouterr().err.splitlines()
    assert f"large.toml: {sentence}" in told
    assert len(told) <= schema.MOST_TOLD + 1


def test_a_map_of_a_million_long_cells_is_refused(harbour, capsys):
    Path("scene.toml").write_text(TRUMPET + "[map]\ncolumns = 1000\nrows = 1000\n")
    assert main(["map", "scene.toml", "--workers", "1", "--out", "out"]) == 2
    assert "map.columns x map.rows = 1000000 cells" in capsys.readouterr().err
    assert not Path("out").exists()


@pytest.mark.parametrize("rate", [22_050, 48_000, 192_000])
def test_half_an_hour_may_be_asked_for_and_ten_hours_may_not(harbour, capsys, rate):
    Path("scene.toml").write_text(TRUMPET.replace("0.1", f"36000\nrate_hz = {rate}"))
    assert main(["check", "scene.toml"]) == 2
    assert "sound.length_s = 36000" in capsys.readouterr().err


def test_a_thousand_problems_are_told_in_fifty_lines(harbour, capsys):
    notes = '[[player.phrase]]\nnote = "H4"\n' * 1000
    variants = "".join(
        f'[[variant]]\nname = "v{i}"\nair.temperature_c = {99 + i}\n' for i in range(9)
    )
    Path("scene.toml").write_text('[instrument]\nname = "trumpet"\n' + notes + variants)
    assert main(["check", "scene.toml"]) == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == schema.MOST_TOLD + 1
    assert told[0].startswith('scene.toml: player.phrase[1].note = "H4"')
    assert told[-1] == "scene.toml: and more problems; mend these first"


# 1.2 GB of addresses hold the libraries (measured 0.9 GB) and a bounded file; each of these took
# more, or hours, before it was bounded
ROOM = 1_500_000_000
FLOODS = {
    "sections": many("[[section]]\n"),
    "copies": BLOWING + "[sound]\nalso = [" + many("1,") + "]\n",
    "keys": BLOWING + "".join(f"k{i}=1\n" for i in range(300_000)),
}


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="limits on addresses as Linux has them")
@pytest.mark.parametrize("text", FLOODS.values(), ids=FLOODS)
def test_a_flood_stays_within_little_memory(tmp_path, text):
    (tmp_path / "flood.toml").write_text(text)
    ran = subprocess.run(
        [sys.executable, "-m", "lipmodel", "check", "flood.toml"], cwd=tmp_path, text=True,
        capture_output=True, check=False, env={**os.environ, "PYTHONPATH": ROOT},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (ROOM, ROOM)),
    )  # fmt: skip
    assert ran.returncode == 2, ran.stderr[-500:]
    (line,) = ran.stderr.splitlines()
    assert line.startswith("flood.toml: ")


HOSTILE = "</script><img src=x onerror=alert(1)><script>alert(2)</script>{{7*7}}]]><!--"


def shown_as_text(page: str):
    """No tag, no handler and no end of a script comes from the text."""
    assert "<img src=x" not in page
    assert "<script>alert" not in page
    assert "</script><img" not in page
    assert "<!--" not in page.split("<body", 1)[1]


TITLED = f"title = '{HOSTILE}'\nlisten_for = '{HOSTILE}'\nask = '{HOSTILE}'\nanswer = '{HOSTILE}'\n"


@pytest.mark.slow
def test_no_page_of_a_render_runs_a_text_of_its_scene(harbour):
    Path("scene.toml").write_text(TITLED + TRUMPET + f"[[variant]]\nname = '{HOSTILE[:50]}'\n"
                                  "air.temperature_c = 30\n")  # fmt: skip
    assert main(["render", "scene.toml", "--out", "out"]) == 0
    pages = list(Path("out").glob("*/listen.html"))
    assert len(pages) == 2
    for page in pages:
        text = page.read_text()
        assert "&lt;/script&gt;" in text
        shown_as_text(text)


def test_no_page_of_bores_runs_a_text_of_its_file(harbour):
    Path("bore.toml").write_text(f"title = '{HOSTILE}'\n" + PIPE)
    assert main(["chart", "bore.toml", "--out", "out"]) == 0
    shown_as_text(Path("out/chart.html").read_text())


@pytest.mark.slow
def test_no_blind_page_runs_a_text_of_its_scene(harbour):
    two = TRUMPET + f"[[variant]]\nname = '{HOSTILE[:50]}'\nair.temperature_c = 30\n"
    Path("scene.toml").write_text(TITLED + two.replace("0.1", "0.5"))
    assert main(["compare", "scene.toml", "--out", "out"]) == 0
    for name in ("listen.html", "blind.html"):
        shown_as_text(Path("out", name).read_text())
    assert json.loads(Path("out/compare.json").read_text())["title"] == HOSTILE
