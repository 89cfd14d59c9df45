"""How many cells of a map get a sound."""

import pytest

from lipmodel.studies import map_sounds


@pytest.mark.parametrize(
    ("shape", "every"), [((3, 9), 1), ((20, 32), 1), ((21, 32), 2), ((40, 60), 2), ((100, 100), 4)]
)
def test_a_fine_map_has_fewer_sounds(shape, every):
    assert map_sounds.coarser(shape) == every
    assert -(-shape[0] // every) * -(-shape[1] // every) <= map_sounds.MOST_SOUNDS
