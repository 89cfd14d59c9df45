"""Where the breath goes: the books of single notes, and the radiated share computed twice."""

import numpy as np
import pytest
from support.music import AIR

from lipmodel.acoustics.field import field, power_per_flow
from lipmodel.acoustics.losses import propagation
from lipmodel.acoustics.resonances import resonances
from lipmodel.analysis.pitch import steady_pitch
from lipmodel.analysis.spectrum import complex_harmonics
from lipmodel.bore import instruments
from lipmodel.bore.geometry import Bore, Section
from lipmodel.player.gesture import steady_part
from lipmodel.player.performance import perform
from lipmodel.scene.scene import read_scene
from lipmodel.studies.energy import (
    PLACES,
    NoteEnergies,
    place_spans,
    share_by_impedance,
    wall_shares,
)

RATE = 48_000
STEADY = slice(RATE // 2, 3 * RATE // 2)  # a second
OPEN = "0", 1.0  # valves and slide
HELD = """
[instrument]
name = "{name}"
{more}
[player]
tension_hz = {tension}
pressure_kpa = [[0, 0], [0.05, {kpa}]]
[sound]
length_s = 1.6
"""
# partial of the trumpet: lip setting in Hz and the note's own frequency
SETTINGS = {2: (185.0, 231.0), 3: (278.0, 347.0), 4: (372.0, 465.0), 5: (468.0, 585.0)}


@pytest.fixture
def held(tmp_path):
    """A note of one breath and one lip setting: its balance over a second, or None."""

    def play(name, tension, kpa, more="", by_impedance=False):
        path = tmp_path / "held.toml"
        path.write_text(HELD.format(name=name, tension=tension, kpa=kpa, more=more), "utf-8")
        performance = perform(read_scene(path))
        found = steady_pitch(performance.played.mouthpiece_pressure[STEADY], RATE)
        if np.isnan(found):
            return None
        return NoteEnergies(performance).of(STEADY, found, OPEN, by_impedance)

    return play


def random_notes(held, name, count):
    """Balances of `count` notes that sound, lips and breath drawn by chance."""
    rng, found = np.random.default_rng(7), []
    for _ in range(6 * count):
        tension = float(np.exp(rng.uniform(np.log(90), np.log(700))))
        kpa = min(float(rng.uniform(11, 33)) * tension / 1e3, 30.0)
        balance = held(name, tension, kpa)
        if balance is not None:
            found.append(balance)
        if len(found) == count:
            return found
    raise AssertionError(f"{name}: only {len(found)} notes sounded")


def closes(balance):
    # every book apart; measured 5e-4 at most over all built-in bores: the lips' steps are of
    # second order, and the same note at ff reaches 1.6e-3
    assert abs(balance.residual) < 3e-3
    # the air column's own books: measured 5e-15
    assert abs(balance.bore_residual) < 1e-9
    assert sum(balance.wall_at.values()) == pytest.approx(balance.wall, rel=1e-9)
    assert min(balance.wall_at.values()) >= 0
    parts = balance.jet, balance.lips, balance.wall, balance.radiated
    assert min(parts) > 0
    assert sum(parts) == pytest.approx(balance.blown, rel=5e-3)


def behind_the_throat(balance):
    """Share of what passes the throat that is radiated: the impedances know no such loss."""
    return balance.radiated / (balance.into_bore - balance.throat)


@pytest.mark.parametrize("name", ["trumpet", "hailing_cone", "hose"])
def test_the_books_of_a_note_close(held, name):
    for balance in random_notes(held, name, 3):
        closes(balance)


@pytest.mark.slow
@pytest.mark.parametrize("name", instruments.names())
def test_the_books_of_twenty_notes_close_on_every_bore(held, name):
    for balance in random_notes(held, name, 20):
        closes(balance)


def test_the_radiated_share_of_soft_notes(held):
    """2 to 6 % in the middle register, under 1.5 % at partial 2, rising steeply above: the bounds
    that the project set itself; near the threshold, where a note is little but its fundamental."""
    found = {}
    for partial, (tension, frequency) in SETTINGS.items():
        balance = held("trumpet", tension, 6.6e-3 * frequency, by_impedance=True)
        found[partial] = balance.share
        # time loop and impedances: measured 1.3 to 4.6 % apart, the fitted open end of the ladder
        assert behind_the_throat(balance) == pytest.approx(balance.share_by_impedance, rel=0.10)
    # measured 1.2, 2.7, 5.4, 9.0 %
    assert found[2] < 0.015
    assert 0.015 < found[3] < found[4] < 0.06
    assert found[5] > 1.5 * found[4]


def test_a_loud_note_radiates_more_of_what_enters_by_its_harmonics(held):
    soft, loud = (held("trumpet", 400.0, p * 0.466, by_impedance=True) for p in (7.5, 16.0))
    # measured 7.8 and 10.7 %: harmonics, which leave the bell more easily
    assert loud.share > 1.2 * soft.share
    assert behind_the_throat(loud) == pytest.approx(loud.share_by_impedance, rel=0.10)
    assert loud.lips / loud.blown > soft.lips / soft.blown


def test_without_a_bell_the_walls_keep_what_enters(held):
    with_bell = held("trumpet", 420.0, 8.0)
    without = held("trumpet", 420.0, 8.0, more='bell = "none"')
    assert without.wall_at["bell"] == 0
    # measured 8.3 and 0.7 %
    assert without.share < 0.3 * with_bell.share


def test_a_pure_tone_has_the_share_of_its_frequency():
    bore, frequency = instruments.instrument("trumpet"), 480.0
    flow = np.sin(2 * np.pi * frequency * np.arange(RATE // 10) / RATE)
    into, out = power_per_flow(bore, AIR, [frequency])
    found = share_by_impedance(bore, AIR, flow, RATE, frequency)
    assert found == pytest.approx(float(out[0] / into[0]), rel=1e-3)


def test_what_is_no_part_is_tubing():
    sections = (Section("mouthpiece", 0, 0.1), Section("cone", 0.1, 0.4), Section("bell", 0.4, 1))
    bore = Bore([0, 1], [0.01, 0.02], sections)
    assert [p for p, _, _ in place_spans(bore)] == ["mouthpiece", "tubing", "bell"]


def test_more_is_lost_where_the_air_moves_than_where_it_presses():
    """A cylinder closed at the lips, its pressure zero at the end: p = cos(kx), u = sin(kx), and
    the walls take viscous |u|^2 + (gamma - 1)/sqrt(Pr) thermal |p|^2 (Kirchhoff's wide-tube law,
    textbook)."""
    parts = Section("leadpipe", 0, 0.5), Section("bell", 0.5, 1.0)
    bore = Bore([0, 1.0], [0.06, 0.06], parts, end="node")  # wide: little is lost on the way
    (first, *_) = resonances(bore, AIR)
    tone = np.cos(2 * np.pi * first.frequency / RATE * np.arange(RATE))
    found = wall_shares(bore, AIR, tone, RATE, first.frequency)
    moving, thermal = 0.25 - 1 / (2 * np.pi), (AIR.heat_ratio - 1) / np.sqrt(AIR.prandtl)
    expected = (moving + thermal * (0.5 - moving)) / (0.5 * (1 + thermal))
    assert found["leadpipe"] == pytest.approx(expected, rel=0.01)
    assert found["leadpipe"] + found["bell"] == pytest.approx(1)


def local_losses(built, pressure, frequency):
    """Power that the walls take, W by place: (Re(Z')|u|^2 + Re(Y')|p|^2)/2 along the bore, series
    impedance and shunt admittance a metre, for harmonics of the pressure at the lips."""
    bore, air = built.bore, built.air
    n = np.arange(1, len(pressure) + 1)
    found = dict.fromkeys(PLACES, 0.0)
    for place, start, end in place_spans(bore):
        x = np.linspace(start, end, 801)
        x = 0.5 * (x[1:] + x[:-1])
        wave = field(bore, air, n * frequency, x, pressure=pressure)
        props = air.along(x / bore.length)
        radius = bore.radius_at(x)
        gamma, z = propagation(radius, 2 * np.pi * frequency * n[:, None], props)
        lost = (gamma * z).real * np.abs(wave.flow) ** 2
        lost += (gamma / z).real * np.abs(wave.pressure) ** 2
        found[place] += 0.5 * np.sum(lost) * (end - start) / len(x)
    return found


@pytest.mark.parametrize(
    ("name", "note"), [("trumpet", "C5"), ("cornet", "G4"), ("trombone", "Bb3"), ("horn", "C4")]
)
def test_walls_take_their_share_place_by_place(tmp_path, name, note):
    path = tmp_path / "walls.toml"
    path.write_text(
        f'[instrument]\nname = "{name}"\nthroat_loss = false\n[player]\ntune = "{note} 1"\n'
    )
    performance = perform(read_scene(path))
    part = steady_part(performance.gesture.notes[0], RATE)
    pressure = performance.played.mouthpiece_pressure[part]
    frequency = steady_pitch(pressure, RATE)
    balance = NoteEnergies(performance).of(part, frequency, OPEN)
    sizes = complex_harmonics(pressure, RATE, frequency, 20)
    exact = local_losses(performance.built, sizes, frequency)
    total = sum(exact.values())
    # measured 1 % of all apart at most, the ladder against the matrices
    assert balance.wall == pytest.approx(total, rel=0.02)
    # and of the shares 0.003
    shares = {place: lost / balance.wall for place, lost in balance.wall_at.items()}
    assert shares == pytest.approx({place: lost / total for place, lost in exact.items()}, abs=0.01)


def test_valve_tube_warms_as_tubing(tmp_path):
    path = tmp_path / "class.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[player]\ntune = "G4 2, D4 2"\n', encoding="utf-8"
    )
    notes = _balances(path)
    for balance in notes:
        closes(balance)
    # valves 1 and 3 add a third of the length: measured 0.26 and 0.42
    up, down = (b.wall_at["tubing"] / b.wall for b in notes)
    assert down > up + 0.1


def _balances(path):
    performance = perform(read_scene(path))
    balances, found = NoteEnergies(performance), []
    for note in performance.gesture.notes:
        part = steady_part(note, RATE)
        pitch = steady_pitch(performance.played.mouthpiece_pressure[part], RATE)
        found.append(balances.of(part, pitch, (note.valves, 1.0)))
    return found
