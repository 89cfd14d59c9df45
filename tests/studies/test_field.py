"""The wave along the tube of a played note, against the ladder's own cells."""

import json

import numpy as np
import pytest
from support.music import AIR
from support.wave_snapshots import even_losses, snapshots, where

from lipmodel.acoustics.field import field, turns
from lipmodel.acoustics.resonances import resonances
from lipmodel.analysis.pitch import steady_pitch
from lipmodel.analysis.spectrum import complex_harmonics
from lipmodel.player.build import build
from lipmodel.player.gesture import steady_part
from lipmodel.player.note_names import resonance_rows
from lipmodel.player.performance import perform
from lipmodel.scene.scene import read_scene
from lipmodel.studies.field import field_of_run, waves_of_run
from lipmodel.studies.notes import Notes
from lipmodel.waveguide.state import Block, start

SCENE = """title = "Inside"
[instrument]
name = "trumpet"
[player]
dynamic = "mf"
[[player.phrase]]
note = "C4"
start_s = 0.05
length_s = 1.0
[show]
field = true
"""


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    path = tmp_path_factory.mktemp("field") / "scene.toml"
    path.write_text(SCENE, encoding="utf-8")
    scene = read_scene(path)
    return perform(scene, build(scene))


@pytest.fixture(scope="module")
def found(played):
    built = played.built
    rows = Notes(played, resonance_rows(built), lambda *how: resonance_rows(built)).rows()
    return field_of_run(played, rows)


def test_a_power_that_enters_without_losses_leaves_everywhere_alike(played):
    # Re(p u*)/2 is the same at every place, caps and all
    wave = field(played.built.bore, AIR, [231.0, 700.0], wall_loss=False)
    power = (wave.pressure * wave.flow.conj()).real
    np.testing.assert_allclose(power, power[:, :1] * np.ones(400), rtol=1e-6)


def test_at_the_lips_of_every_partial_pressure_is_greatest_and_air_stands_still(found):
    for partial in found["partials"]:
        pressure, flow = partial["pressure"], partial["flow"]
        assert pressure[0] == pytest.approx(pressure.max(), rel=1e-3)
        # a node of motion: at most a tenth of what moves further in; measured 0.03 to 0.09
        assert flow[0] < 0.1 * flow.max()
        # partial n has n - 1 nodes inside the tube
        assert len(partial["pressure_nodes_m"]) == partial["n"] - 1


def test_a_node_of_pressure_is_an_antinode_of_motion(played):
    bore, air = played.built.bore, played.built.air
    (partial,) = [r for r in resonances(bore, air, highest=500.0) if r.n == 4]
    antinodes, nodes = turns(bore, air, partial.frequency)
    for place, column in [(x, 0) for x in nodes] + [(x, 1) for x in antinodes]:
        x = place + np.array([-0.02, 0.0, 0.02])
        wave = field(bore, air, partial.frequency, x)
        small, large = (np.abs(v[0]) for v in (wave.pressure, wave.flow)[:: 1 - 2 * column])
        assert small[1] < small[0]
        assert small[1] < small[2]
        assert large[1] > 0.97 * large.max()  # in a widening tube flow leans towards the bell


def test_the_ladder_holds_the_field_that_the_matrices_say(played):
    built, rate = played.built, played.built.rate
    part = steady_part(played.gesture.notes[0], rate)
    f = steady_pitch(played.played.mouthpiece_pressure[part], rate)
    first, count = part.start + 2400, 2400
    state = played.state_at(first / rate)
    now = slice(first, first + count)
    taken = snapshots(built.horn, state, Block(played.mouth[now], played.tension[now]))
    # the same run, sample by sample: the same bits
    np.testing.assert_array_equal(taken.mouthpiece, played.played.mouthpiece_pressure[now])
    x = where(built.horn.ladder, built.bore, built.air, taken.travel)
    n = np.arange(1, 6)
    inside = complex_harmonics(taken.mouthpiece, rate, f, 5)[:, None]
    out, back = (complex_harmonics(w, rate, f, 5) / inside for w in (taken.out, taken.back))
    wave = field(built.bore, built.air, n * f, x, pressure=np.ones(5)).pressure
    factors = even_losses(built.horn.ladder, n * f)
    even, raw = out * factors[0] + back * factors[1], out + back

    def off(shape):
        miss = np.abs(shape) - np.abs(wave)
        return np.sqrt(np.mean(miss**2, axis=1) / np.mean(np.abs(wave) ** 2, axis=1))

    # the bar: 2 % rms along the tube for the first five harmonics (233 to 1165 Hz), both fields
    # over their mouthpiece pressure.  Of that pressure and with phases, measured 0.5 to 0.67 %
    of_mouthpiece = np.sqrt(np.mean(np.abs(even - wave) ** 2, axis=1))
    assert np.all(of_mouthpiece < 0.01), of_mouthpiece
    # of each harmonic's own rms along the tube: measured 1.1, 1.6, 1.9, 2.3 and 2.8 %
    assert np.all(off(even) < 0.03), off(even)
    # a cell's loss taken once for both ways shows inside the tube, as it must
    assert off(raw).max() > 0.02


def test_a_transient_is_seen_on_its_way(played):
    # the breath's first push travels at the speed of sound: seen in the cells, not at the end
    built = played.built
    state, count = start(built.horn), 60
    block = Block(np.full(count, 3000.0), np.full(count, 460.0))
    taken = snapshots(built.horn, state, block)
    beyond = taken.travel > count + 1
    assert np.all(taken.pressure[:, beyond] == 0)
    front = taken.travel < 20
    assert np.abs(taken.pressure[-1, front]).min() > 0
    lines = built.horn.ladder.delay[built.horn.ladder.line_cell]
    pressed = Block(block.mouth, block.tension, lines_from=lines)
    with pytest.raises(ValueError, match="no valve"):
        snapshots(built.horn, state, pressed)


def test_the_animation_is_small_and_meets_the_played_pressure(found, played):
    moving = found["animation"]
    text = json.dumps(moving, separators=(",", ":"))
    assert len(text) < 300_000
    pressure = np.array(moving["pressure_pa"])
    assert pressure.shape == (48, 160)
    rate, f = played.built.rate, moving["frequency_hz"]
    part = steady_part(played.gesture.notes[0], rate)
    time = part.start + np.arange(48) / 48 * rate / f
    trace = played.played.mouthpiece_pressure
    heard = np.interp(time, np.arange(len(trace)), trace)
    heard = heard - heard.mean()
    # twelve harmonics of the pressure at the lips: measured 1.5 % of its rms
    assert np.std(pressure[:, 0] - heard) < 0.04 * np.std(heard)
    assert np.ptp(moving["lip_opening_mm2"]) > 1
    # the harmonics one by one add up to the note but for those beyond the sixth
    turn = 2 * np.pi * np.arange(48)[:, None] / 48
    total = sum(
        np.array(h["pressure_re_pa"]) * np.cos(h["n"] * turn)
        - np.array(h["pressure_im_pa"]) * np.sin(h["n"] * turn)
        for h in moving["harmonics"]
    )
    assert np.std(total - pressure) < 0.2 * np.std(pressure)
    assert any("1 node of" in s for s in found["sentences"])


def test_harmonics_alone_add_up_to_the_animation(found, played):
    built = played.built
    rows = Notes(played, resonance_rows(built), lambda *how: resonance_rows(built)).rows()
    (wave,) = waves_of_run(played, rows)
    turn = 2 * np.pi * np.arange(48)[:, None] / 48
    for name, whole in (("pressure", "pressure_pa"), ("velocity", "velocity_m_s")):
        unit = whole.removeprefix(name)
        total = sum(
            np.array(h[f"{name}_re{unit}"]) * np.cos(h["n"] * turn)
            - np.array(h[f"{name}_im{unit}"]) * np.sin(h["n"] * turn)
            for h in wave["harmonics"]
        )
        expected = np.array(found["animation"][whole])
        # three digits of the largest, twelve terms
        assert np.abs(total - expected).max() < 0.02 * np.abs(expected).max()
    assert "pressure_pa" not in wave
