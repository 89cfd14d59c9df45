"""A tube that nobody blows: a slap, rushing air, a loudspeaker, heat."""

import json
import re
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.signal import welch

from lipmodel.acoustics.open_pipe import natural_frequencies
from lipmodel.acoustics.resonances import resonances
from lipmodel.acoustics.thermoacoustic import rayleigh
from lipmodel.air import Air
from lipmodel.analysis.peaks import answer, peak_near, spectrum
from lipmodel.analysis.pitch import steady_pitch
from lipmodel.bore import instruments
from lipmodel.bore.geometry import Bore
from lipmodel.commands.main import main
from lipmodel.errors import SceneError
from lipmodel.output.render import render
from lipmodel.output.source_report import levels, rows
from lipmodel.output.source_sentences import source_sentences
from lipmodel.player.build import build
from lipmodel.player.run import simulate
from lipmodel.player.source import noise, sounded
from lipmodel.scene.scene import read_scene
from lipmodel.waveguide.fit import build_ladder, ladder_reflectance
from lipmodel.waveguide.impulse_response import waveguide_reflection
from lipmodel.waveguide.source_loop import Heat, drive, tube

AIR = Air.at(22.0)
RATE = 48_000.0
BORES = ("trumpet", "pipe", "cone", "trombone", "hose")
SIZE = 1 << 17  # samples of an echo: longer than any of them rings
FIRST = 6  # resonances looked at
# an open pipe for the flame: length and radius in m
LENGTH, RADIUS = 0.7, 7.5e-3
PIPE = Bore([0, LENGTH], [RADIUS, RADIUS])
LEVINE_SCHWINGER = 0.6133  # end correction over radius, low frequency; Phys. Rev. 73, 383, 1948


def cents(a, b):
    return 1200 * np.log2(a / b)


@cache
def ladder(name):
    bore = PIPE if name == "open pipe" else instruments.instrument(name)
    return bore, build_ladder(bore, AIR, RATE)


@cache
def own_peaks(name):
    """Impedance peaks of the time-domain bore, from its answer to a click."""
    frequency, size = own_impedance(name)
    at = np.flatnonzero((size[1:-1] > size[:-2]) & (size[1:-1] >= size[2:])) + 1
    at = at[(frequency[at] > 20) & (frequency[at] < 1500)][:FIRST]
    return np.array([peak_near(frequency, size, frequency[i]) for i in at])


@cache
def own_impedance(name):
    bore, _ = ladder(name)
    response = waveguide_reflection(bore, AIR, RATE, SIZE)
    r = np.fft.rfft(response, 1 << 20)
    frequency = np.fft.rfftfreq(1 << 20, 1 / RATE)
    zc = AIR.impedance(np.pi * bore.radius[0] ** 2)
    return frequency, zc * np.abs((1 + r) / (1 - r))


def slap(samples, at=100, count=29):
    flow = np.zeros(samples)
    flow[at : at + count] = 1e-5 * np.hanning(count + 2)[1:-1]
    return flow


@pytest.mark.parametrize("name", ["trumpet", "cone"])
def test_both_loops_have_the_same_bore(name):
    # the impedance by the loop without a player against the one by the echo; measured 6e-6 on the
    # flank of the cone's highest peak, where 1 - R is small.  Fails too where one of the two
    # compiled loops is older than what they share
    bore, made = ladder(name)
    flow = slap(SIZE)
    driven = drive(tube(made, bore, AIR, 0.0), flow)
    inside = slice(int(50 * SIZE / RATE), int(1500 * SIZE / RATE))
    pressure, given = (np.fft.rfft(v)[inside] for v in (driven.lip_pressure, flow))
    _, size = own_impedance(name)
    step = (1 << 20) // SIZE
    np.testing.assert_allclose(np.abs(pressure / given), size[::step][inside], rtol=3e-5)


@pytest.mark.parametrize("name", BORES)
def test_a_slapped_tube_rings_at_its_own_peaks(name):
    bore, made = ladder(name)
    driven = drive(tube(made, bore, AIR, 0.0), slap(int(3 * RATE)))
    frequency, size = spectrum(driven.lip_pressure, RATE)
    found = [peak_near(frequency, size, f) for f in own_peaks(name)]
    # measured 0.94 cent (trumpet, first peak): the slap's own spectrum falls a little across it
    assert np.max(np.abs(cents(np.array(found), own_peaks(name)))) < 3.0


@pytest.mark.parametrize("name", BORES)
def test_rushing_air_has_the_peaks_of_the_tube(name):
    bore, made = ladder(name)
    flow = 2e-5 * noise(np.random.default_rng(1), RATE, int(20 * RATE))
    driven = drive(tube(made, bore, AIR, 0.0), flow)
    # averaged pressure over averaged flow, as the report tells it: measured 3.0 cents here, 3.9
    # with two other seeds
    frequency, size = answer(flow, driven.lip_pressure, RATE)
    found = np.array([peak_near(frequency, size, f) for f in own_peaks(name)])
    assert np.max(np.abs(cents(found, own_peaks(name)))) < 5.0
    # the averaged spectrum of the pressure alone: 20 s of noise leave 5 cents of scatter at the
    # lowest peaks, and the quartic some 5 of bias where peaks are skew; measured 10.5 (hose)
    frequency, power = welch(driven.lip_pressure, RATE, nperseg=int(2 * RATE))
    quality = [r.quality or 15 for r in resonances(bore, AIR)]
    for f, q in zip(own_peaks(name), quality, strict=False):
        width = min(1.5 * f / q, 0.3 * np.diff(own_peaks(name)).min())
        near = smooth_peak(frequency, power, f, width)
        assert abs(cents(smooth_peak(frequency, power, near, width), f)) < 13.0


def smooth_peak(frequency, power, near, width):
    """Maximum of the quartic whose exponential is the likeliest spectrum (P. Whittle 1953: each
    line of an averaged spectrum is spread like a chi-square around it)."""
    inside = np.abs(frequency - near) < width
    x, y = (frequency[inside] - near) / width, power[inside]
    base = np.polynomial.chebyshev.chebvander(x, 4)
    c = np.linalg.lstsq(base, np.log(y), rcond=None)[0]
    for _ in range(30):
        share = y * np.exp(-base @ c)
        c = c + np.linalg.solve(base.T @ (share[:, None] * base), base.T @ (share - 1))
    fine = np.linspace(-0.8, 0.8, 4001)
    return near + width * fine[np.argmax(np.polynomial.chebyshev.chebval(fine, c))]


def test_a_wave_needs_its_time_from_the_source_to_the_lips():
    # trumpet: both places are in its long cylinder, where the line is broken; what is in front of
    # it rounds both waves alike
    bore, made = ladder("trumpet")
    places, arrived = (0.4, 0.5541), []
    for place in places:
        where = tube(made, bore, AIR, place)
        assert where.place == place
        assert len(where.ladder.line_cell) == len(made.line_cell) + 1
        driven = drive(where, slap(int(0.01 * RATE)))
        first = driven.lip_pressure[: int((place / 330 + 0.004) * RATE)]
        at = int(np.argmax(first))
        left, middle, right = first[at - 1 : at + 2]
        arrived.append(at + 0.5 * (left - right) / (left - 2 * middle + right))
    way = np.diff(arrived)[0] / RATE * AIR.sound_speed
    # measured 1.0 mm: walls slow the wave by half a per cent and round it
    assert way == pytest.approx(places[1] - places[0], abs=3e-3)


def test_a_broken_line_is_the_same_bore():
    bore, made = ladder("trumpet")
    where = tube(made, bore, AIR, 0.5)
    frequency = np.arange(50.0, 1500.0, 1.0)
    whole, broken = (ladder_reflectance(x, frequency) for x in (made, where.ladder))
    # measured 1.6e-3: two first-order allpasses and two sets of shelves for one
    assert np.abs(whole - broken).max() < 3e-3


def test_among_cells_the_source_goes_to_the_nearest_joint():
    bore, made = ladder("cone")
    for place in np.linspace(0.02, 0.95, 20) * bore.length:
        where = tube(made, bore, AIR, float(place))
        # half of a sample's way, 7.2 mm, and a line of 2.5 samples at most
        assert abs(where.place - place) < 1.25 * AIR.sound_speed / RATE
    with pytest.raises(ValueError, match="must lie from 0 to"):
        tube(made, bore, AIR, bore.length + 1e-3)


@pytest.mark.parametrize(("place", "lip_end"), [(0.0, "closed"), (0.3, "closed"), (0.3, "open")])
def test_the_books_of_a_source_close(place, lip_end):
    bore, made = ladder("trumpet")
    driven = drive(tube(made, bore, AIR, place, lip_end), slap(int(0.4 * RATE)))
    books = driven.books
    spent = books["wall"] + books["radiated"] + books["lip_radiated"] + driven.stored
    # every term is summed on its own; measured 2e-15
    assert spent == pytest.approx(books["given"], rel=1e-9)
    assert (books["lip_radiated"] > 0) == (lip_end == "open")


def test_an_open_pipe_without_losses_has_the_textbook_series():
    wide = LENGTH + 2 * LEVINE_SCHWINGER * RADIUS
    for r in natural_frequencies(PIPE, AIR, wall_loss=False)[:3]:
        # measured 0.13 cent at the third: the end correction shrinks as frequency rises
        assert abs(cents(r.frequency, r.n * AIR.sound_speed / (2 * wide))) < 0.5


def test_an_open_pipe_rings_in_time_as_it_does_in_frequency():
    bore, made = ladder("open pipe")
    driven = drive(tube(made, bore, AIR, 0.11, "open"), slap(int(RATE)))
    frequency, size = spectrum(driven.source_pressure, RATE)
    for r in natural_frequencies(bore, AIR)[:5]:
        # measured 2.4 cents: a peak of a driven answer is not quite the free ringing
        assert abs(cents(peak_near(frequency, size, r.frequency), r.frequency)) < 4.0


def heat_of(watts, lag, draught=0.3):
    ratio = 1.4
    volume = (ratio - 1) / (AIR.density * AIR.sound_speed**2)
    return Heat(volume * watts, 1 / draught, lag)


def flame(place, lag, watts, seconds=2.5, bore=PIPE, made=None):
    made = made or ladder("open pipe")[1]
    where = tube(made, bore, AIR, place, "open")
    stir = 2e-3 * made.admittance[0] * noise(np.random.default_rng(1), RATE, int(seconds * RATE))
    return drive(where, stir, heat_of(watts, lag))


def closed_form(place, lag, watts, modes):
    """Growth and loss in 1/s of each mode of a lossless open pipe: with p = sin(kx) and
    u = -cos(kx) a quarter of a period later, mean p q' goes as sin(2 k x) sin(w lag)
    (Rayleigh, Nature 18, 319, 1878; the product is worked out here)."""
    heat, end = heat_of(watts, lag), LEVINE_SCHWINGER * RADIUS
    long, area = LENGTH + 2 * end, np.pi * RADIUS**2
    scale = heat.top * heat.gain * AIR.sound_speed / (2 * area * long)
    for mode in modes:
        omega = 2 * np.pi * mode.frequency
        product = np.sin(2 * mode.n * np.pi * (place + end) / long) * np.sin(omega * lag)
        yield SimpleNamespace(fed=scale * product, lost=omega / (2 * mode.quality))


def test_heat_makes_it_grow_only_where_rayleigh_says():
    modes = natural_frequencies(PIPE, AIR)[:6]
    period = 1 / modes[0].frequency
    grown, silent = 0, 0
    for share in (1 / 8, 1 / 4, 0.4, 0.6, 3 / 4):
        for turn in (0.1, 0.25, 0.4, 0.6, 0.75, 0.9):
            for watts in (2.0, 4.0):
                told = closed_form(share * LENGTH, turn * period, watts, modes)
                best = max(g.fed - g.lost for g in told)
                # near the edge a closed form to first order cannot tell: it errs by 5 /s at 50
                if abs(best) < 4:
                    continue
                driven = flame(share * LENGTH, turn * period, watts)
                rms = np.std(driven.source_pressure[-4800:])
                # what grows reaches 49 Pa or more, what does not stays under 0.004 Pa
                assert (rms > 1.0) == (best > 0), (share, turn, watts, best, rms)
                assert not 0.1 < rms < 10
                grown, silent = grown + (rms > 1), silent + (rms <= 1)
    assert grown >= 15
    assert silent >= 25


def test_the_theory_of_the_report_is_the_closed_form():
    modes = natural_frequencies(PIPE, AIR)[:4]
    heat = heat_of(4.0, 0.8e-3)
    found = rayleigh(PIPE, AIR, modes, 0.2, heat.top * heat.gain, heat.lag)
    for g, told in zip(found, closed_form(0.2, 0.8e-3, 4.0, modes), strict=True):
        # measured 5.1 of 49 /s: with losses pressure and motion are not quite a quarter of a
        # period apart
        assert g.fed == pytest.approx(told.fed, abs=7.0)
        assert g.lost == pytest.approx(told.lost)


def test_small_motion_grows_as_fast_as_the_theory_says():
    modes = natural_frequencies(PIPE, AIR)
    lag = 0.25 / modes[0].frequency
    heat = heat_of(3.0, lag)
    told = rayleigh(PIPE, AIR, modes[:1], LENGTH / 4, heat.top * heat.gain, lag)[0]
    pressure = flame(LENGTH / 4, lag, 3.0).source_pressure
    block = 2400
    size = np.sqrt(np.mean(pressure[: len(pressure) // block * block].reshape(-1, block) ** 2, 1))
    small = np.flatnonzero((size > 0.03) & (size < 3.0))
    slope = np.polyfit(small * block / RATE, np.log(size[small]), 1)[0]
    # measured 5 %
    assert slope == pytest.approx(told.fed - told.lost, rel=0.12)


@pytest.mark.parametrize(("share", "turn"), [(1 / 4, 0.25), (3 / 4, 0.75), (1 / 8, 0.25)])
def test_it_settles_at_the_resonance_of_the_pipe(share, turn):
    first = natural_frequencies(PIPE, AIR)[0].frequency
    pressure = flame(share * LENGTH, turn / first, 4.0).source_pressure
    found = steady_pitch(pressure[-int(0.5 * RATE) :], RATE)
    # a quarter of a period behind, heat feeds and does not pull: measured 1.4 cents
    assert abs(cents(found, first)) < 10
    # settled: the last tenth of a second is as loud as the one before
    last, before = pressure[-4800:], pressure[-9600:-4800]
    assert np.std(last) == pytest.approx(np.std(before), rel=0.02)


@pytest.mark.parametrize(("radius", "sings"), [(7.5e-3, True), (3e-3, False)])
def test_a_thin_pipe_loses_too_much(radius, sings):
    # the same heat for the same area feeds by 33 /s; walls and ends take 21 of the wide pipe, 53
    # of the thin one
    bore = Bore([0, LENGTH], [radius, radius])
    made = build_ladder(bore, AIR, RATE)
    lag = 0.25 / natural_frequencies(bore, AIR)[0].frequency
    driven = flame(LENGTH / 4, lag, 2.5 * (radius / 7.5e-3) ** 2, bore=bore, made=made)
    assert (np.std(driven.source_pressure[-4800:]) > 1.0) == sings


SCENE = """
title = "The Wednesday brass class at the harbour"
[instrument]
name = "pipe"
mouthpiece = "none"
[source]
{source}
[sound]
length_s = 1.5
{more}
"""


@pytest.fixture
def scene(tmp_path):
    def write(source, more=""):
        path = tmp_path / "quay.toml"
        path.write_text(SCENE.format(source=source, more=more), "utf-8")
        return path

    return write


def told(path):
    found = sounded(build(read_scene(path)))
    report = {"inputs": found.built.scene.inputs(), **rows(found)}
    return found, report, source_sentences(report)


SING = 'kind = "flame"\nat_mm = 325\nlag_ms = 1.9\nheat_w = 4'


@pytest.mark.parametrize(
    ("source", "words"),
    [
        (SING + '\nlip_end = "closed"', "the lip end is closed, so no draught"),
        (SING.replace("325", "650"), "walls and ends take"),
        (SING.replace("325", "975"), "takes from every swing"),
    ],
)
def test_a_silent_flame_says_why(scene, source, words):
    found, report, sentences = told(scene(source))
    assert not found.sounds
    assert report["notes"] == []
    assert any(words in s for s in sentences), sentences
    assert "qualified person" in sentences[-1]


def test_a_singing_flame_tells_its_resonance(scene):
    found, report, sentences = told(scene(SING))
    (note,) = report["notes"]
    assert found.sounds
    assert (note["state"], note["partial"]) == ("sounding", 1)
    assert abs(note["cents_from_resonance"]) < 10  # measured 8.0, as strong as this heat is
    assert [m["grows"] for m in report["source"]["rayleigh"][:2]] == [True, False]
    assert "sings by itself" in sentences[0]


@pytest.mark.parametrize("kind", ["pop", "breath", "tone"])
def test_what_is_heard_is_the_tube(scene, kind):
    _, report, sentences = told(scene(f'kind = "{kind}"'))
    heard = report["source"]["heard"]
    assert [h["n"] for h in heard[:5]] == [1, 2, 3, 4, 5]
    # measured 0.4 (pop), 4 (noise of 1.5 s), 0.5 (tone) cents: ladder against exact bore
    assert max(abs(h["cents_from_resonance"]) for h in heard[:5]) < {"breath": 10}.get(kind, 2)
    assert any("the tube's own resonances" in s for s in sentences)
    assert bool(report["notes"]) == (kind == "pop")


def test_the_public_simulate_takes_a_source(scene):
    run = simulate(read_scene(scene('kind = "pop"')))
    assert not run.tension.any()
    # the wave that the slap starts; the first echo comes back turned over
    assert run.mouthpiece_pressure.max() == pytest.approx(1000.0, rel=0.02)


def test_noise_is_the_seed(scene):
    def first(seed):
        return sounded(build(read_scene(scene('kind = "breath"', f"seed = {seed}")))).driven.flow

    np.testing.assert_array_equal(first(3), first(3))
    assert np.std(first(3)) == pytest.approx(2e-5, rel=0.2)
    assert np.std(first(3) - first(4)) > 1e-5


def test_a_take_has_the_files_and_keys_of_a_played_one(scene, tmp_path):
    path = scene('kind = "pop"', '[[variant]]\nname = "blown"\n'
                 "player.tension_hz = 300\nplayer.pressure_kpa = 4")  # fmt: skip
    popped, blown = render(path, tmp_path / "out")
    keys = [set(json.loads((t.folder / "report.json").read_text())) for t in (popped, blown)]
    assert keys[0] - keys[1] == {"source"}
    # a player's takes may say more about lips, never less
    assert keys[1] - keys[0] <= {"family"}
    for name in ("sound.wav", "picture.png", "listen.html", "traces.npz"):
        assert (popped.folder / name).stat().st_size > 1000
    with np.load(popped.folder / "traces.npz") as a, np.load(blown.folder / "traces.npz") as b:
        assert set(a) == set(b)
        assert not a["mouth_pressure_pa"].any()
        assert not a["lip_opening_m2"].any()
        assert a["flow_m3_s"].any()
        assert a["radiated_pressure_pa"].any()
    page = (popped.folder / "listen.html").read_text("utf-8")
    assert "came from the source" in page
    assert popped.report["level"]["lufs"] > -60
    assert popped.report["energy"]["residual"] == pytest.approx(0, abs=1e-3)
    notes = popped.report["notes"][0], blown.report["notes"][0]
    assert set(notes[0]) <= set(notes[1]) | {"bend_cents"}


@pytest.mark.parametrize("command", ["slots", "map"])
def test_what_needs_lips_says_so_in_one_line(scene, capsys, command):
    path = scene('kind = "tone"')
    assert main([command, str(path)]) == 2
    said = capsys.readouterr().err.splitlines()
    assert said == [f"{path}: has a [source]: lipmodel {command} needs the lips of a [player]"]


def test_resonances_of_a_source_scene_are_told(scene, capsys):
    assert main(["resonances", str(scene('kind = "tone"')), "--json"]) == 0
    assert "frequency_hz" in capsys.readouterr().out


def test_each_kind_has_its_own_defaults(scene):
    pop = read_scene(scene('kind = "pop"')).source
    assert (pop.lip_end, pop.strength_kpa, pop.heat_w) == ("closed", 1.0, None)
    fire = read_scene(scene('kind = "flame"')).source
    assert (fire.lip_end, fire.lag_ms, fire.flow_l_s) == ("open", 1.0, None)
    with pytest.raises(SceneError, match="expected to be left out"):
        read_scene(scene('kind = "tone"\nheat_w = 3'))


SHORT = """\
[instrument]
{tube}
[source]
kind = "pop"
{more}
[sound]
length_s = {length}
"""


@pytest.mark.parametrize(
    ("more", "length", "told"),
    [
        ("", 0.05, "expected 0.12 s or more: the pop begins at 0.1 s"),
        ("", 0.119, "expected 0.12 s or more: the pop begins at 0.1 s"),
        ("start_s = 5.0", 1.2, "expected 5.02 s or more: the pop begins at 5 s"),
    ],
)
def test_a_pop_that_nobody_would_hear_is_refused(tmp_path, more, length, told):
    path = tmp_path / "late.toml"
    path.write_text(SHORT.format(tube='name = "pipe"', more=more, length=length))
    with pytest.raises(SceneError, match=re.escape(f"{path}: sound.length_s = {length}: {told}")):
        read_scene(path)
    path.write_text(SHORT.format(tube='name = "pipe"', more="", length=0.12))
    assert read_scene(path).sound.length_s == 0.12


def test_a_pop_that_has_not_come_back_yet_is_told_without_numbers(tmp_path):
    # 43 ms from the end of a long hose to its lip end, 20 ms of sound
    (tmp_path / "hose.toml").write_text(
        '[[section]]\nshape = "cylinder"\nlength_mm = 15000\ndiameter_mm = 12\n'
    )
    path = tmp_path / "far.toml"
    tube, more = 'bore = "hose.toml"', "at_mm = 15000\nstart_s = 0.03"
    path.write_text(SHORT.format(tube=tube, more=more, length=0.05))
    (take,) = render(path, tmp_path / "out")
    report = json.loads((take.folder / "report.json").read_text())
    assert (report["source"]["heard"], report["notes"]) == ([], [])
    assert "is over too soon" in " ".join(report["sentences"])
    assert set(report["source"]["spectrum"]["level_db"]) == {-120.0}


def test_levels_of_nothing_at_all_are_the_lowest():
    assert levels(np.zeros(3)).tolist() == [-120, -120, -120]
    assert levels(np.array([1.0, 0.1, 0.0])).tolist() == [0, -20, -120]


def test_no_cents_are_told_without_a_minus():
    report = {
        "source": {"kind": "pop", "heard": [], "draught": None},
        "notes": [{"frequency_hz": 807.7, "sounding": "Ab5", "partial": 7,
                   "cents_from_resonance": -0.01}],
        "energy": {"into_bore_j": 0.0},
    }  # fmt: skip
    assert "resonance 7 of the tube, +0.0 cents from it." in source_sentences(report)[1]
