"""A number or breakpoints of a scene as one value."""

import numpy as np
import pytest

from lipmodel.player.breakpoints import Breakpoints

BENT = Breakpoints.of(((0.5, 2.0), (1.0, 2.0), (2.0, -4.0)))


def test_a_number_stays_what_it_is():
    still = Breakpoints.of(3)
    assert (still.moves, still.first, still.last, still.at(7.0)) == (False, 3.0, 3.0, 3.0)
    assert still.sampled(10, 4).tolist() == [3.0] * 4
    assert still == Breakpoints((0.0,), (3.0,))


def test_lines_are_straight_and_held_at_both_ends():
    assert [BENT.at(t) for t in (0.0, 1.5, 9.0)] == [2.0, -1.0, -4.0]
    assert BENT.at(np.array([[1.25], [2.0]])).tolist() == [[0.5], [-4.0]]
    assert (BENT.first, BENT.last, BENT.moves) == (2.0, -4.0, True)


def test_samples_begin_where_they_are_asked_to():
    assert BENT.sampled(4, 3, start=4).tolist() == [BENT.at(t) for t in (1.0, 1.25, 1.5)]


def test_scaled_and_later():
    assert BENT.scaled(0.5).values == (1.0, 1.0, -2.0)
    assert BENT.later(1.0).points == [(1.5, 2.0), (2.0, 2.0), (3.0, -4.0)]


@pytest.mark.parametrize(
    ("given", "leaves"), [(BENT, 1.0), (Breakpoints((0.0, 3.0), (1.0, 1.0)), 3.0)]
)
def test_it_leaves_its_first_value_after_the_last_point_there(given, leaves):
    assert given.leaves == leaves
