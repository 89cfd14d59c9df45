"""The loss of head behind the mouthpiece's throat: quasi-steady flow, passive, off on request."""

from dataclasses import replace

import numpy as np
import pytest
from support import throat
from support.music import AIR, RATE

from lipmodel.bore.geometry import Bore, Section
from lipmodel.lips import SMALL
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.ladder import start_ladder
from lipmodel.waveguide.state import Block, start, stored_energy
from lipmodel.waveguide.time_loop import THROAT_LOSS, advance, play

horn = throat.horn  # the same fixture


def test_the_throat_is_the_mouthpieces_own(horn):
    # 3.56 mm in a cup of 16.3 mm, as in the bore file
    ladder = horn.ladder
    assert ladder.throat_area == pytest.approx(np.pi * 1.78e-3**2, rel=1e-6)
    assert 0 < ladder.throat < ladder.station
    assert ladder.throat_share == pytest.approx((3.56 / 16.3) ** 2, rel=0.01)


def test_a_tube_without_a_mouthpiece_loses_nothing_there():
    ladder = build_ladder(Bore([0, 1.0], [0.006, 0.006]), AIR, RATE)
    assert (ladder.throat, ladder.station) == (-1, 0)


@pytest.mark.parametrize("backbore", [0.2, 1.0, 5.0, 10.0, 20.0, 60.0])
@pytest.mark.parametrize("behind", [0.2, 2.0, 800.0])
def test_the_station_lies_behind_the_throat_however_short_the_backbore(backbore, behind):
    # cells of 7 mm, or of 2 where the bore ends there: what is noted must have lost already
    x = 1e-3 * np.cumsum([0.0, 10.0, 8.0, backbore, behind])
    mouthpiece = Section("mouthpiece", 0.0, x[3])
    bore = Bore(x, 1e-3 * np.array([8.0, 8.0, 2.0, 4.5, 4.5]), (mouthpiece,))
    ladder = start_ladder(bore, AIR, RATE if behind > 100 else 192_000.0)
    assert 0 <= ladder.throat < ladder.station - 1
    assert ladder.station < len(ladder.admittance)


def test_steady_flow_loses_its_head(horn):
    """dp = K rho u^2/(2 S^2): by hand 50.7 Pa for a steady 0.184 l/s through 3.56 mm."""
    seconds = 0.6
    # lips held apart, too stiff for any note: a flow that stands
    wide = replace(SMALL, rest=(SMALL.rest[0], 0.35e-3), width=7e-3)
    steady = {}
    for on in (True, False):
        blown = replace(horn, lips=wide, throat_loss=on)
        n = int(seconds * RATE)
        mouth = 1e3 * np.minimum(np.arange(n) / (0.3 * RATE), 1)
        run = play(blown, mouth, np.full(n, 1900.0))
        steady[on] = run.mouthpiece_pressure[-2000:].mean(), run.flow[-2000:].mean()
        assert np.ptp(run.flow[-2000:]) < 1e-3 * steady[on][1]
    (with_loss, flow), (without, free) = steady[True], steady[False]
    expected = THROAT_LOSS * AIR.density * flow**2 / (2 * horn.ladder.throat_area**2)
    assert flow < free
    assert expected == pytest.approx(50.7, rel=0.02)
    # a tube without a throat lets a steady flow pass for nothing; measured 3e-14
    assert abs(without) < 1e-6 * expected
    assert with_loss == pytest.approx(expected, rel=1e-6)


def test_the_throat_never_gives(horn):
    # random waves in the whole ladder, no breath: what is stored only falls, and by what is booked
    state = start(horn)
    rng = np.random.default_rng(3)
    state.right[:] = 3e3 * rng.standard_normal(len(state.right))
    state.left[:] = 3e3 * rng.standard_normal(len(state.left))
    before = stored_energy(horn.ladder, state)
    advance(horn, state, Block(np.zeros(64), np.full(64, 300.0)), book=True)
    throat = state.books[7]
    assert throat > 0
    assert stored_energy(horn.ladder, state) < before - throat


def test_a_soft_wave_passes_as_if_there_were_none(horn):
    # a ten-thousandth of a kPa: the loss goes with the square of the flow
    n = 4000
    mouth, tension = np.full(n, 0.1), np.full(n, 300.0)
    with_loss, without = (
        play(replace(horn, throat_loss=on), mouth, tension).mouthpiece_pressure
        for on in (True, False)
    )
    assert np.abs(with_loss - without).max() < 1e-3 * np.abs(without).max()  # measured 2e-4
