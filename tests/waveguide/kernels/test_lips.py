"""One sample of the lips: the flow of Bernoulli, and a junction that solves its own equations."""

from dataclasses import replace

import numpy as np
import pytest
from support.music import RATE

from lipmodel.lips import MOTIONS, SMALL
from lipmodel.waveguide.kernels import lips as kernel_lips


def one_sample(lips, x, y, mouth, back, zc, velocity=(0.0, 0.0), tension=300.0, rho=1.2):
    """What the time loop makes of one sample: pressure, flow, opening, jet and powers."""

    lip = np.array([x, y, 0.0, 0.0, *velocity, *velocity])
    quality = lips.quality_at(tension)
    return kernel_lips.lips(
        MOTIONS.index(lips.motion), lips.constants(), lip, tension, 1 / quality, 1.0,
        mouth, back, zc, 1 / zc, rho, 1 / RATE,
    )  # fmt: skip


def test_a_slit_passes_the_flow_of_bernoulli():
    # 12 x 0.5 mm at 3 kPa, rho 1.2: 0.4243 L/s (textbook).  A cup as wide as the world takes no
    # recovery, no aperture limit, a bore of no impedance
    lips = replace(SMALL, width=12e-3, cup_area=1e6, aperture_limit=1e6, smoothing=1e-9)
    _, flow, opening, jet, *_ = one_sample(lips, 0.0, 0.25e-3, 3000.0, 0.0, 1e-6)
    assert opening == pytest.approx(6e-6, rel=1e-6)
    assert jet == pytest.approx(0.4243e-3, abs=0.5e-7)
    assert flow == pytest.approx(jet)


@pytest.mark.parametrize("seed", range(200))
def test_the_junction_solves_its_own_equations_and_is_passive(seed):
    rng = np.random.default_rng(seed)
    mouth, back = rng.normal(0, 8e3, 2)
    y, zc = rng.uniform(-0.5e-3, 1.5e-3), 10 ** rng.uniform(5, 7)
    speed = rng.normal(0, 0.5, 2)
    pressure, flow, opening, jet, *_ = one_sample(SMALL, 1e-3, y, mouth, back, zc, speed)
    # the bore: p = back + zc u;  the jet: contraction by Bernoulli, expansion by momentum
    assert pressure == pytest.approx(back + zc * flow, rel=1e-9, abs=1e-6)
    cup = SMALL.cup_area
    loss = 0.5 * 1.2 * jet**2 * (1 / opening**2 - 2 / (opening * cup) + 2 / cup**2)
    across = mouth - pressure
    assert np.sign(jet) * loss == pytest.approx(across, rel=1e-7, abs=1e-6)
    assert across * jet >= 0
    # swept: both lips, 2 b n . v
    nx, ny = SMALL.joint[1] - y, 1e-3 - SMALL.joint[0]
    swept = 2 * SMALL.width * (nx * speed[0] + ny * speed[1])
    assert flow - jet == pytest.approx(swept, rel=1e-6, abs=1e-12)
