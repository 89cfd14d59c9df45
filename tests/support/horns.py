"""A horn to blow: ladder, lips and air of a built-in instrument."""

import pytest
from support.music import AIR, RATE

from lipmodel.acoustics.resonances import resonances
from lipmodel.bore import instruments
from lipmodel.lips import SMALL
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.state import Horn

TRUMPET = instruments.instrument("trumpet")
PEAKS = [(r.n, r.frequency) for r in resonances(TRUMPET, AIR)]


def horn(name="trumpet", lips=SMALL, rate=RATE):
    return Horn(build_ladder(instruments.instrument(name), AIR, rate), lips, AIR.density)


@pytest.fixture(scope="module")
def trumpet():
    return horn()
