"""`lipmodel render`: what it tells, and what happens when something goes wrong."""

import errno
import re
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from support import takes
from support.answers import refused
from support.takes import BARE, PHRASE, PLAIN, TRACES, listed, report_of, write

from lipmodel.commands.main import main
from lipmodel.files import tables

alone = takes.alone  # the same fixture

ONE_NOTE = """[instrument]
name = "trumpet"
[player]
dynamic = "mf"
[[player.phrase]]
note = "{}"
length_s = 0.4
"""


# render and ready


def test_render_tells_what_was_played_changed_and_what_to_open(tmp_path, capsys):
    scene = tmp_path / "one.toml"
    scene.write_text(
        'title = "Just one"\n[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 6\n'
        "tension_hz = 425\n[sound]\nlength_s = 0.4\n"
        '[[variant]]\nname = "no bell"\ninstrument.bell = "none"\n'
    )
    assert main(["render", str(scene), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr()
    assert told.err == ""  # no terminal: no progress
    lines = told.out.splitlines()
    assert lines[0] == "one: Just one"
    assert "  Played one note: C5 (written)." in lines
    assert "one-no-bell: Just one" in lines
    assert "  Changed: instrument.bell: as written -> none. All else was held." in lines
    assert f"  Open {tmp_path / 'out' / 'one' / 'listen.html'}" in lines


def test_render_opens_the_page_when_asked(tmp_path, capsys, monkeypatch):
    import webbrowser

    opened = []
    monkeypatch.setattr(webbrowser, "open", opened.append)
    scene = tmp_path / "one.toml"
    scene.write_text(
        '[instrument]\nname = "pipe"\n[player]\npressure_kpa = 0\ntension_hz = 425\n'
        "[sound]\nlength_s = 0.1\n"
    )
    assert main(["render", str(scene), "--out", str(tmp_path / "out"), "--open"]) == 0
    assert opened == [(tmp_path / "out" / "one" / "listen.html").resolve().as_uri()]


def test_a_note_beyond_the_lips_is_told_as_such(tmp_path, capsys):
    scene = tmp_path / "high.toml"
    scene.write_text(ONE_NOTE.format("G9"))
    told = refused(capsys, "render", scene, "--out", tmp_path / "out")
    assert told == (
        f"{scene}: note G9 sounds at 11175 Hz: expected a note that sounds from 25 to 1800 Hz"
    )


def test_a_variant_that_cannot_be_played_is_named(tmp_path, capsys):
    scene = tmp_path / "low.toml"
    variant = '[[variant]]\nname = "very high"\nplayer.phrase = [{ note = "G9" }]\n'
    scene.write_text(ONE_NOTE.format("G4") + variant)
    told = refused(capsys, "render", scene, "--out", tmp_path / "out")
    assert told.startswith(f'{scene}: variant "very high": note G9 sounds at')
    # the scene itself was played, and told
    assert (tmp_path / "out" / "low" / "report.json").exists()


def test_a_bore_file_is_not_a_scene(tmp_path, capsys):
    bore = tmp_path / "hose.toml"
    assert main(["new", "bore", str(bore)]) == 0
    capsys.readouterr()
    told = refused(capsys, "render", bore, "--out", tmp_path / "out")
    assert told == (
        f'{bore}: this is a bore file; name it in a scene: [instrument] bore = "hose.toml"'
    )


def test_the_full_table_has_every_sample(tmp_path):
    scene = write(tmp_path, "short.toml", PLAIN.replace("0.3", "0.1"))
    assert main(["render", str(scene), "--out", str(tmp_path), "--csv", "full"]) == 0
    table = np.loadtxt(tmp_path / "short" / "traces.csv", delimiter=",", skiprows=1)
    with np.load(tmp_path / "short" / "traces.npz") as traces:
        whole = np.column_stack([traces[n] for n in TRACES])
    np.testing.assert_allclose(table, whole, rtol=1e-7, atol=1e-15)


def test_no_breath_is_silence_and_says_so(tmp_path, capsys):
    scene = write(tmp_path, "silent.toml", PLAIN.replace("= 6.0", "= 0"))
    assert main(["render", str(scene), "--out", str(tmp_path)]) == 0
    told = capsys.readouterr()
    assert "No note sounded" in told.out
    assert told.err == ""
    samples, _ = soundfile.read(tmp_path / "silent" / "sound.wav")
    assert len(samples) == 14_400
    assert not np.any(samples)
    report = report_of(tmp_path / "silent")
    assert report["notes"] == []
    assert set(report["pitch"]["frequency_hz"]) == {None}
    assert report["level"]["lufs"] is None
    assert report["energy"]["residual"] == 0.0


def test_the_shortest_sound_can_be_rendered(tmp_path):
    scene = write(tmp_path, "short.toml", PLAIN.replace("= 0.3", "= 0.05"))
    assert main(["render", str(scene), "--out", str(tmp_path)]) == 0
    assert report_of(tmp_path / "short")["level"]["repeated_to_measure"] is True


# What goes wrong: exit 2, one line, nothing half-written


def assert_refused(capsys, argv, message):
    assert main(argv) == 2
    told = capsys.readouterr()
    assert re.fullmatch(message + r"\n", told.err), told.err
    assert told.out == ""


def loud(text=PLAIN):
    return text.replace("= 6.0", "= 25").replace(
        "length_s = 0.3", 'length_s = 0.3\nlevel = "calibrated"\ndistance_m = 0.05'
    )


def test_a_calibrated_sound_too_loud_for_the_file_is_refused(tmp_path, capsys):
    scene = write(tmp_path, "loud.toml", loud())
    message = (
        re.escape(f'{scene}: sound.level = "calibrated": the sound reaches ')
        + r"\d+ Pa, more than the 200 Pa of a calibrated file: use level = \"matched\" or a "
        "larger distance_m"
    )
    assert_refused(capsys, ["render", str(scene), "--out", str(tmp_path / "out")], message)
    assert not (tmp_path / "out").exists()


def test_a_run_that_leaves_the_model_is_told_in_one_line(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(sys.modules["lipmodel.waveguide.time_loop"], "LARGEST_PRESSURE", 2000.0)
    scene = write(tmp_path, "wild.toml", PLAIN)
    message = (
        re.escape(f"{scene}: the pressure left the model's range (2 kPa) after ")
        + r"0\.\d{4} s \(mouth pressure 6 kPa, lip tension 425 Hz\); blow softer, .*rate_hz.*"
    )
    assert_refused(capsys, ["render", str(scene), "--out", str(tmp_path / "out")], message)
    assert not (tmp_path / "out").exists()


def test_a_note_that_cannot_be_played_is_refused_with_what_would_help(tmp_path, capsys):
    text = PHRASE.split("[[player.phrase]]")[0] + (
        '[[player.phrase]]\nnote = "C5"\nlength_s = 0.5\npressure_kpa = 0.3\n'
    )
    scene = write(tmp_path, "breathless.toml", text)
    message = (
        re.escape(f"{scene}: note C5 at 0 s (open, 0.3 kPa): no lip setting ") + ".*more breath.*"
    )
    assert_refused(capsys, ["render", str(scene), "--out", str(tmp_path / "out")], message)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("failing", [*BARE, "sound.flac", "traces.csv"])
def test_a_full_disk_leaves_the_old_take_and_nothing_else(once, capsys, monkeypatch, failing):
    scene, folder, before = once

    def full(real):
        def write_some(self, *args, **kwargs):
            if Path(self).name == failing:
                raise OSError(errno.ENOSPC, "No space left on device")
            return real(self, *args, **kwargs)

        return write_some

    monkeypatch.setattr(Path, "write_bytes", full(Path.write_bytes))
    monkeypatch.setattr(Path, "write_text", full(Path.write_text))
    monkeypatch.setattr(tables, "save_traces", full(tables.save_traces))
    argv = ["render", str(scene), "--out", str(folder.parent), "--csv"]
    message = re.escape(
        f"{folder}: cannot be written (No space left on device); nothing was left half-written"
    )
    assert_refused(capsys, argv, message)
    assert listed(folder.parent) == [folder.name]
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    """A scene, the folder of its first take, and what is in it."""
    at = tmp_path_factory.mktemp("once")
    scene = write(at, "note.toml", PLAIN.replace("= 0.3", '= 0.1\nalso = ["flac"]'))
    assert main(["render", str(scene), "--out", str(at / "out"), "--csv"]) == 0
    folder = at / "out" / "note"
    return scene, folder, {p.name: p.read_bytes() for p in folder.iterdir()}


def test_a_file_where_the_folder_should_be_is_left_alone(tmp_path, capsys):
    scene = write(tmp_path, "note.toml", PLAIN.replace("0.3", "0.1"))
    taken = write(tmp_path, "taken", "a diary")
    message = (
        re.escape(f"{taken / 'note'}: cannot be written (") + ".*nothing was left half-written"
    )
    assert_refused(capsys, ["render", str(scene), "--out", str(taken)], message)
    taken_too = write(tmp_path, "note", "another diary")
    message = re.escape(f"{taken_too}: cannot be written (") + ".*nothing was left half-written"
    assert_refused(capsys, ["render", str(scene), "--out", str(tmp_path)], message)
    assert (taken.read_text(), taken_too.read_text()) == ("a diary", "another diary")
    assert listed(tmp_path) == ["note", "note.toml", "taken"]


def test_a_folder_with_other_files_is_never_replaced(tmp_path, capsys):
    scene = write(tmp_path, "note.toml", PLAIN)
    (tmp_path / "note").mkdir()
    write(tmp_path / "note", "diary.txt", "dear diary")
    message = re.escape(
        f"{tmp_path / 'note'}: holds other files (diary.txt); expected a new folder or one that "
        "lipmodel wrote"
    )
    assert_refused(capsys, ["render", str(scene), "--out", str(tmp_path)], message)
    assert listed(tmp_path) == ["note", "note.toml"]
    assert (tmp_path / "note" / "diary.txt").read_text() == "dear diary"


def test_mp3_at_a_rate_it_does_not_know_is_refused(tmp_path, capsys):
    text = PLAIN.replace("= 0.3", '= 0.1\nrate_hz = 96000\nalso = ["mp3"]')
    scene = write(tmp_path, "high.toml", text)
    message = re.escape(
        'sound.also: "mp3" cannot be written at 96000 Hz; expected another kind or rate_hz = '
        "48000, 44100, 32000"
    )
    assert_refused(capsys, ["render", str(scene), "--out", str(tmp_path / "out")], message)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("order", ["first", "last"])
@pytest.mark.parametrize("fault", ["loud", "broken"])
def test_one_failing_scene_does_not_stop_the_others(tmp_path, capsys, order, fault):
    bad = write(tmp_path, "bad.toml", loud() if fault == "loud" else PLAIN + "colour = 3\n")
    good = write(tmp_path, "good.toml", PLAIN)
    scenes = [bad, good] if order == "first" else [good, bad]
    assert main(["render", *map(str, scenes), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert told.err.startswith(f"{bad}: sound.")
    assert told.err.count("\n") == 1
    assert "good:" in told.out
    assert listed(tmp_path / "out") == ["good"]
    assert listed(tmp_path / "out" / "good") == BARE


def test_two_scenes_of_one_name_are_refused_before_anything_is_written(tmp_path, capsys):
    for folder in ("monday", "wednesday"):
        (tmp_path / folder).mkdir()
        write(tmp_path / folder, "note.toml", PLAIN)
    one, other = (tmp_path / f / "note.toml" for f in ("monday", "wednesday"))
    message = re.escape(
        f"{other}: would be written over {one}; expected scenes with different names"
    )
    argv = ["render", str(one), str(other), "--out", str(tmp_path / "out")]
    assert_refused(capsys, argv, message)
    assert not (tmp_path / "out").exists()


def test_a_figure_kind_nobody_knows_is_refused(tmp_path, capsys):
    scene = write(tmp_path, "note.toml", PLAIN)
    argv = ["render", str(scene), "--out", str(tmp_path / "out"), "--figures", "svg,gif"]
    assert_refused(capsys, argv, "--figures gif: expected svg or pdf")
    assert not (tmp_path / "out").exists()
