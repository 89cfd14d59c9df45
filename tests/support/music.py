"""What many tests count in: cents, the air of a warm room, samples a second."""

import numpy as np

from lipmodel.air import Air

AIR = Air.at(22.0)
RATE = 48_000.0
RATE_HZ = 48_000


def cents(a, b):
    return 1200 * np.log2(np.asarray(a) / np.asarray(b))
