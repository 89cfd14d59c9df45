"""The trumpet with the throat of its mouthpiece."""

import pytest
from support.horns import TRUMPET
from support.music import AIR, RATE

from lipmodel.lips import SMALL
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.state import Horn


@pytest.fixture(scope="module")
def horn():
    return Horn(build_ladder(TRUMPET, AIR, RATE), SMALL, AIR.density)
