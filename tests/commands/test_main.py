"""Words in, exit code out, whatever the words and files are."""

import re
import subprocess
import sys

import pytest

from lipmodel.commands.main import main

COMMANDS = ("render", "new", "resonances", "instruments", "check", "lesson", "ready")
HEAVY = ("numpy", "scipy", "numba", "pydantic", "matplotlib", "soundfile", "tqdm", "pyloudnorm")
ODD_FILES = {
    "empty": b"",
    "not text": b"\xff\xfe\x00\x01",
    "not TOML": b"[instrument\n",
    "a list": b"[[instrument]]\n",
    "huge number": b'[instrument]\nname = "trumpet"\n[player]\ntension_hz = ' + b"9" * 5000,
    "nested": b"a = " + b"[" * 5000 + b"]" * 5000,
    "NUL": b'title = "\x00"\n',
}
TROMBONE = """\
slide_travel_mm = 300
[valves]
first_mm = 3000
second_mm = 60
[[section]]
shape = "cylinder"
length_mm = 1200
diameter_mm = 12
slide = true
valves = [[1, 100.0], [2, 200.0]]
"""
# what only the whole bore shows: the scene, and the words for it
ONLY_TOGETHER = {
    "a slide too short": (
        'bore = "own.toml"\nslide_position = 7\nvalves = "1"',
        48_000,
        "slide position 7 needs 870 mm of slide; this bore has 300 mm",
    ),
    "a mute in the way": (
        'bore = "own.toml"\nmute = { cork_mm = 3.0 }',
        48_000,
        "instrument.mute: the mute does not go into the bell: its small end with corks is "
        "36 mm wide, the bell 12 mm",
    ),
    "a rate too low": (
        'name = "mouthpiece"',
        22_050,
        "the bore is 66 mm long, too short for rate_hz = 22050: expected at least 29000 Hz",
    ),
}


def test_help_lists_the_commands(capsys):
    with pytest.raises(SystemExit) as caught:
        main(["--help"])
    assert caught.value.code == 0
    told = capsys.readouterr().out
    for command in COMMANDS:
        assert re.search(rf"^    {command}\s+\w", told, re.MULTILINE), command
    assert "lipmodel new note my.toml" in told


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_its_own_help(capsys, command):
    with pytest.raises(SystemExit) as caught:
        main([command, "--help"])
    assert caught.value.code == 0
    assert f"usage: lipmodel {command}" in capsys.readouterr().out


@pytest.mark.parametrize("argv", [[], ["sing"], ["new", "song", "x.toml"], ["render"]], ids=str)
def test_words_that_are_no_command_end_with_two(capsys, argv):
    with pytest.raises(SystemExit) as caught:
        main(argv)
    assert caught.value.code == 2
    assert "usage: lipmodel" in capsys.readouterr().err


@pytest.mark.parametrize("argv", ["['--help']", "['render', '--help']"])
def test_help_loads_nothing_heavy(argv):
    # this is how help answers at once: none of the libraries is imported for it
    code = (
        "import sys\nfrom lipmodel.commands.main import main\n"
        f"try:\n    main({argv})\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', sorted(set({HEAVY}) & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.splitlines()[-1] == "LOADED []"
    assert done.stderr == ""


def test_the_package_runs_as_a_module(tmp_path):
    command = [sys.executable, "-m", "lipmodel", "new", "note", str(tmp_path / "my.toml")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    again = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (again.returncode, again.stdout) == (2, "")


@pytest.mark.parametrize("content", ODD_FILES.values(), ids=ODD_FILES)
@pytest.mark.parametrize("command", ["check", "render", "resonances"])
def test_no_file_brings_a_traceback(tmp_path, capsys, command, content):
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    argv = [command, str(path)]
    if command == "render":
        argv += ["--out", str(tmp_path / "out")]
    assert main(argv) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith(f"{path}:")
    assert "Traceback" not in told.err
    assert [p.name for p in tmp_path.iterdir()] == ["odd.toml"]


def test_a_broken_pipe_and_a_stop_are_no_tracebacks(capsys, monkeypatch):
    from lipmodel.commands import instruments

    def stopped(args):
        raise KeyboardInterrupt

    monkeypatch.setattr(instruments, "run", stopped)
    assert main(["instruments"]) == 130  # over 128: POSIX, from memory
    assert capsys.readouterr().err == "stopped; nothing was left half-written\n"

    def closed(args):
        raise BrokenPipeError

    monkeypatch.setattr(instruments, "run", closed)
    assert main(["instruments"]) == 0


def test_our_own_bugs_are_not_hidden(monkeypatch):
    from lipmodel.commands import instruments

    def broken(args):
        raise ValueError("ours")

    monkeypatch.setattr(instruments, "run", broken)
    with pytest.raises(ValueError, match="ours"):
        main(["instruments"])


@pytest.mark.parametrize(
    ("what", "command"),
    [
        *((what, command) for what in ONLY_TOGETHER for command in ("render", "slots", "map")),
        # without a loop there is no rate
        *((w, c) for w in list(ONLY_TOGETHER)[:2] for c in ("check", "resonances")),
    ],
)
def test_what_only_the_whole_bore_shows_is_told_with_the_file(
    tmp_path, monkeypatch, capsys, what, command
):
    instrument, rate, words = ONLY_TOGETHER[what]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "own.toml").write_text(TROMBONE)
    (tmp_path / "low.toml").write_text(
        f"[instrument]\n{instrument}\n[player]\npressure_kpa = 5\ntension_hz = 440\n"
        f"[sound]\nlength_s = 0.3\nrate_hz = {rate}\n"
    )
    assert main([command, "low.toml"]) == 2
    told = capsys.readouterr().err.splitlines()
    told = [line for line in told if not line.startswith("compiling the time loop")]
    assert told == [f"low.toml: {words}"]
    assert sorted(p.name for p in tmp_path.rglob("*")) in (
        ["low.toml", "own.toml"], ["low.toml", "own.toml", "renders"],
    )  # fmt: skip
