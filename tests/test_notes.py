"""Notes found in a pitch track, and what a player's mistakes are told."""

import numpy as np
import pytest

from lipmodel.acoustics.impedance import impedance
from lipmodel.analysis.segments import spans
from lipmodel.bore.assembly import to_bore
from lipmodel.commands.main import main
from lipmodel.player.build import build
from lipmodel.player.cached import kept_resonances
from lipmodel.player.note_names import resonance_rows
from lipmodel.player.performance import perform
from lipmodel.player.plan import _followed_column, planned
from lipmodel.player.tubing import held_bore
from lipmodel.scene.scene import read_scene
from lipmodel.studies.field import standing
from lipmodel.studies.hold import moments
from lipmodel.studies.notes import Notes
from lipmodel.studies.pair import portrait
from lipmodel.units import cents

HOP = 0.01


def stairs(steps, seconds=0.6):
    """A track that holds each of `steps` (cents over 200 Hz), smeared over 50 ms at jumps as
    overlapping frames smear it, while the lips rise evenly."""
    frames = int(seconds / HOP)
    cents = np.repeat(np.array(steps, float), frames)
    cents += 0.2 * np.tile(np.arange(frames), len(steps)) * HOP * 170
    cents = np.convolve(np.pad(cents, 2, mode="edge"), np.ones(5) / 5, mode="valid")
    times = HOP * np.arange(len(cents))
    tension = 180 * 2 ** (170 * times / 1200)
    return times, 200 * 2 ** (cents / 1200), tension


def test_small_steps_are_notes_of_their_own():
    # a step of 110 cents over five frames moves 22 cents a frame: no single frame jumps
    found = spans(*stairs([0, 110, 230, 900]))
    assert len(found) == 4
    assert all(s.swept for s in found)


def test_a_glide_is_one_note():
    times = HOP * np.arange(400)
    tension = 150 * 2 ** (300 * times / 1200)
    (found,) = spans(times, 1.1 * tension, tension)
    assert found.end - found.start > 3.5
    assert found.lock == pytest.approx(0, abs=0.01)


def test_a_very_fast_glide_is_still_heard():
    times = HOP * np.arange(100)
    tension = 150 * 2 ** (2400 * times / 1200)
    assert len(spans(times, 1.1 * tension, tension)) == 1


def test_a_blip_is_no_note():
    times, track, tension = stairs([0, 700])
    track[:60] = np.nan
    track[20:35] = 52.0
    assert len(spans(times, track, tension)) == 1


PHRASE = """[instrument]
name = "trumpet"
[player]
dynamic = "mf"
[[player.phrase]]
note = "{}"
length_s = 0.4
"""


def refused(capsys, *argv):
    assert main([str(a) for a in argv]) == 2
    told = capsys.readouterr().err.strip()
    assert "\n" not in told
    return told


def test_a_note_beyond_the_lips_is_told_as_such(tmp_path, capsys):
    scene = tmp_path / "high.toml"
    scene.write_text(PHRASE.format("G9"))
    told = refused(capsys, "render", scene, "--out", tmp_path / "out")
    assert told == (
        f"{scene}: note G9 sounds at 11175 Hz: expected a note that sounds from 25 to 1800 Hz"
    )


def test_a_variant_that_cannot_be_played_is_named(tmp_path, capsys):
    scene = tmp_path / "low.toml"
    variant = '[[variant]]\nname = "very high"\nplayer.phrase = [{ note = "G9" }]\n'
    scene.write_text(PHRASE.format("G4") + variant)
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


def test_a_lesson_file_is_checked_with_its_scenes(tmp_path, capsys):
    assert main(["new", "note", str(tmp_path / "one.toml")]) == 0
    lesson = tmp_path / "lesson.toml"
    lesson.write_text('title = "First lesson"\nscenes = ["one.toml"]\n')
    assert main(["check", str(lesson)]) == 0
    assert "lesson of 1 scenes" in capsys.readouterr().out
    lesson.write_text('scenes = ["missing.toml"]\n')
    assert "missing.toml" in refused(capsys, "check", lesson)
    lesson.write_text("scenes = 3\n")
    assert refused(capsys, "check", lesson).endswith("expected a list of scene files")


PULLED = {
    "by a note": """[player]
[[player.phrase]]
note = "D4"
length_s = 0.6
valves = "13"
third_slide_pull_mm = 12.0
""",
    "by the scene, a phrase": 'third_slide_pull_mm = 12.0\n[player]\ntune = "D4 0.6"\n',
    "by the scene, lips set": """valves = "13"
third_slide_pull_mm = 12.0
[player]
tension_hz = 245
pressure_kpa = 4
[sound]
length_s = 0.8
""",
}


@pytest.mark.parametrize("text", PULLED.values(), ids=PULLED)
def test_a_note_is_told_beside_the_resonance_of_its_pulled_slides(tmp_path, text):
    path = tmp_path / "pulled.toml"
    path.write_text(f'[instrument]\nname = "trumpet"\n{text}')
    performance = perform(read_scene(path))
    built = performance.built
    bore = to_bore(built.spec, valves="13", third_slide_pull_mm=12.0)
    own = kept_resonances(bore, built.air)[2].frequency
    without = kept_resonances(to_bore(built.spec, valves="13"), built.air)[2].frequency
    assert cents(without, own) > 15

    def held_rows(*how):
        return resonance_rows(built, held_bore(built, *how))

    (note,) = Notes(performance, resonance_rows(built), held_rows).rows()
    assert note["partial"] == 3
    assert note["resonance_hz"] == pytest.approx(own, rel=1e-9)
    assert note["cents_from_resonance"] == pytest.approx(cents(note["frequency_hz"], own))
    assert note["energy"]["wall_at_w"]["tubing"] > 0


def test_whoever_looks_into_the_bore_of_a_note_sees_its_pulled_slides(tmp_path):
    path = tmp_path / "pulled.toml"
    path.write_text(f'[instrument]\nname = "trumpet"\n{PULLED["by a note"]}')
    scene = read_scene(path)
    performance = perform(scene)
    built = performance.built
    bore = to_bore(built.spec, valves="13", third_slide_pull_mm=12.0)
    rows = Notes(performance, [], lambda *how: resonance_rows(built, held_bore(built, *how))).rows()
    assert standing(performance, rows)["x_m"][-1] == pytest.approx(bore.length)
    (moment,) = moments(performance, scene.variants[0], "lips")
    assert moment.bore.length == pytest.approx(bore.length)
    seen = portrait(performance, rows[0])
    expected = np.abs(impedance(bore, built.air, seen["curve_hz"]))
    np.testing.assert_allclose(seen["curve"], expected, rtol=1e-9)


def test_a_slide_that_moves_with_a_valve_down_starts_from_the_pulled_column(tmp_path):
    (tmp_path / "both.toml").write_text(
        "[valves]\nfirst_mm = 100\nsecond_mm = 60\n"
        '[[section]]\nshape = "cylinder"\nlength_mm = 1400\ndiameter_mm = 12\n'
        "slide = true\nvalves = [[1, 100.0], [2, 200.0]]\n"
    )
    for pull in (0.0, 100.0):
        path = tmp_path / "slid.toml"
        path.write_text(
            '[instrument]\nbore = "both.toml"\n[player]\n[[player.phrase]]\nnote = "D4"\n'
            f'valves = "1"\nfirst_slide_pull_mm = {pull}\nslide_position = [[0, 1], [0.5, 3]]\n'
        )
        built = build(read_scene(path))
        (written,) = built.scene.phrase()
        note = planned(built, written)
        columns = [
            kept_resonances(
                to_bore(built.spec, valves="1", slide_position=p, first_slide_pull_mm=pull),
                built.air,
            )
            for p in (1.0, 3.0)
        ]
        near = min(columns[0], key=lambda r: abs(cents(r.frequency, note.frequency))).n
        expected = columns[1][near - 1].frequency / columns[0][near - 1].frequency
        assert _followed_column(built, note)[-1][1] == pytest.approx(expected, rel=1e-9)
