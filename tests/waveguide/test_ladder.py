"""The ladder: where its shelves lie, and that it gives back no more than it gets."""

from dataclasses import replace

import numpy as np
import pytest
from support.music import AIR, RATE

from lipmodel.bore import instruments
from lipmodel.bore.geometry import Bore
from lipmodel.waveguide.arrays import at_junctions, shelf_ranges
from lipmodel.waveguide.fit import ladder_reflectance
from lipmodel.waveguide.ladder import _seats, line_tap, shelf_cells, start_ladder


@pytest.mark.parametrize("dense", [False, True])
@pytest.mark.parametrize("name", ["trumpet", "hailing_cone", "tuba", "horn", "mouthpiece"])
def test_the_throats_junction_has_no_shelf(name, dense):
    # its loss is added behind the shelves; and each other cell's shelf sits at one junction only
    ladder = start_ladder(instruments.instrument(name), AIR, RATE, dense=dense)
    assert ladder.throat >= 0
    weight = at_junctions(ladder)[1]
    assert weight[ladder.throat] == 0
    assert np.count_nonzero(weight) == np.count_nonzero(ladder.shelf_weight) > 0
    edge = shelf_ranges(weight, ladder.turn)
    assert np.all(np.diff(edge) >= 0)
    inside = np.r_[edge[0] : edge[1], edge[2] : edge[3]]
    assert set(np.flatnonzero(weight)) <= set(inside)


def test_what_the_loop_reads_is_the_ladder_s_own():
    # worked out once: but not for a ladder made from another one
    ladder = start_ladder(instruments.instrument("trumpet"), AIR, RATE)
    assert np.any(at_junctions(ladder)[1])
    bare = replace(ladder, shelf_weight=np.zeros_like(ladder.shelf_weight))
    assert not np.any(at_junctions(bare)[1])
    assert np.any(at_junctions(ladder)[1])


def test_the_cell_at_the_turn_has_no_shelf_where_the_throat_is():
    plain = np.ones(80, bool)
    for throat in (7, 8):
        cell = shelf_cells(80, 8)[throat]
        assert cell == 8
        assert cell not in _seats(plain, 8, throat, True)
        assert cell + 1 in _seats(plain, 8, throat, True)


@pytest.mark.parametrize("seed", range(6))
def test_no_ladder_gives_back_more_than_it_gets_whatever_its_areas(seed):
    rng = np.random.default_rng(seed)
    ladder = start_ladder(instruments.instrument("trumpet"), AIR, RATE)
    wild = replace(
        ladder,
        admittance=ladder.admittance * np.exp(rng.normal(0, 1.5, len(ladder.admittance))),
        shelf_weight=rng.uniform(0, 0.9, len(ladder.admittance)),
    )
    every = np.linspace(0.5, RATE / 2, 5000)
    assert np.abs(ladder_reflectance(wild, every)).max() <= 1


def test_a_line_s_shelves_never_amplify():
    ladder = start_ladder(Bore([0, 3.0], [1e-3, 1e-3]), AIR, RATE)
    for delay in (20.0, 200.0, 3000.0):
        weights = line_tap(ladder, 0, delay)[2:]
        assert np.all(weights >= 0)
        assert weights.sum() <= 1 + 1e-12
