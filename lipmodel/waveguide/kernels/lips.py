"""The lips of the time loop, in four pieces between which the cells of the bore are advanced.

`lips.py` has the equations and the order of the constants `c`.  The pieces hang on each other by
square roots and divisions, each of which waits for the one before; the cells, which do not wait
for the lips, fill these gaps.  The rules of `time_loop.py` hold here.
"""

from math import fabs, log, sqrt

from lipmodel.waveguide.kernels.compiler import INNER, compiled

BOTH, SWING, LIFT = 0, 1, 2  # motion of the lips
# fields of `lip`, the lips' state: position, momentum, velocity now and a sample before
X, Y, PX, PY, VX, VY, WX, WY = 0, 1, 2, 3, 4, 5, 6, 7


@compiled(**INNER)
def opening_of(motion, c, lip, zc, rho):
    """What the lips' place and motion give: gap, share of it that is open, swept flow, opening
    in m2, and the jet's law a, a^2 and its recovery, for `jet_of`."""
    x, y = lip[X], lip[Y]
    # velocity now, from the last two half steps: second order
    vx, vy = 1.5 * lip[VX] - 0.5 * lip[WX], 1.5 * lip[VY] - 0.5 * lip[WY]
    root = sqrt(y * y + c[9] * c[9])
    gap = 0.5 * (y + root)
    open_share = gap / root  # = (1 + y/root)/2
    lips = 1.0 if motion == SWING else 2.0
    swept = 0.0
    if motion == BOTH:
        swept = 2.0 * c[0] * ((c[2] - y) * vx + (x - c[1]) * vy)
    # jet: contraction by Bernoulli, expansion by momentum into the cup; with s = S/S_cup,
    # mouth - pressure = rho/2 (U/S)^2 (1 - 2 s + 2 s^2) = speed^2
    wide = lips * c[0] * gap
    narrowing = 1.0 + gap * c[10]  # S = wide/narrowing
    spread = wide * c[5]
    inverse = 1.0 / (narrowing * narrowing - 2.0 * spread * (narrowing - spread))
    a_squared = zc * zc * wide * wide * inverse * (2.0 / rho)
    recovery = narrowing * narrowing * inverse
    return gap, open_share, swept, wide / narrowing, sqrt(a_squared), a_squared, recovery


@compiled(**INNER)
def jet_of(a, a_squared, recovery, swept, mouth, back, zc, admittance):
    """Jet and bore wave together, one quadratic without a branch to choose: pressure in the
    mouthpiece, flow of the jet, pressure across the lips and pressure in their channel."""
    still = back + zc * swept
    drop = mouth - still
    speed = 2.0 * fabs(drop) / (a + sqrt(a_squared + 4.0 * fabs(drop)))
    across = speed * speed if drop > 0.0 else -speed * speed
    pressure = mouth - across
    jet = a * speed * admittance if drop > 0.0 else -a * speed * admittance
    channel = (mouth if drop > 0.0 else pressure) - speed * speed * recovery
    return pressure, jet, across, channel


@compiled(**INNER)
def _two_way_forces(c, motion, stiffness, open_share, gap, x, y, across, channel):
    """Force on one lip of the two-way model (and of `lift`, its upward half)."""
    dx, dy = x - c[3], y - c[4]
    far = (dx * dx + dy * dy) * c[12]
    harder = 1.0 + far * far
    lifted = y * c[11] if y > 0.0 else 0.0
    fy = stiffness * (c[8] * (gap - y) - dy * (harder + lifted * lifted))
    fy += c[0] * c[14] * channel * open_share
    fx = 0.0
    if motion == BOTH:
        fx = c[0] * across * (c[2] - y) - stiffness * dx * harder
        fy += c[0] * across * (x - c[1])
    return fx, fy


@compiled(**INNER)
def forces_of(motion, c, lip, tension, damping, firm, gap, open_share, across, channel):
    """Mass and resistance of one lip and the force on it, (mass, resistance, fx, fy); `damping`
    is 1/Q, `firm` multiplies stiffness, mass and resistance."""
    x, y = lip[X], lip[Y]
    resistance = (open_share * damping + (1.0 - open_share) * c[7]) * firm
    if motion == SWING:
        mass = c[13] * firm
        omega = 6.283185307179586 * tension
        resistance *= mass * omega
        fx = 0.0
        fy = across - mass * omega * omega * (y - c[4] - c[8] * (gap - y))
    else:
        mass = firm * c[6] / (78.95683520871486 * tension)  # half of kappa/(4 pi^2 f)
        resistance *= c[6] / 12.566370614359172
        fx, fy = _two_way_forces(
            c,
            motion,
            0.5 * c[6] * tension * firm,
            open_share,
            gap,
            x,
            y,
            across,
            channel,
        )
    return mass, resistance, fx, fy


@compiled(**INNER)
def move(motion, c, lip, open_share, across, channel, mass, resistance, fx, fy, dt):
    """The lips' next place; returns the power lost in damping and what a pressure to which no
    flow belongs gives them: that in their channel, or all that moves lips that swing."""
    # momentum, so that a mass that changes with tension takes no energy from nowhere
    half = 0.5 * dt * resistance
    share = 1.0 / (mass + half)
    new_vx = (lip[PX] + dt * fx - half * lip[VX]) * share
    new_vy = (lip[PY] + dt * fy - half * lip[VY]) * share
    mean_x, mean_y = 0.5 * (new_vx + lip[VX]), 0.5 * (new_vy + lip[VY])
    damped = resistance * (mean_x * mean_x + mean_y * mean_y)
    if motion == SWING:  # per area of a lip's face, which is as high as its joint
        face = c[0] * c[2]
        damped *= face
        given = face * across * mean_y
    else:
        damped *= 2.0
        given = 2.0 * c[0] * c[14] * channel * open_share * mean_y
    lip[WX], lip[WY], lip[VX], lip[VY] = lip[VX], lip[VY], new_vx, new_vy
    lip[PX], lip[PY] = mass * new_vx, mass * new_vy
    lip[X] += dt * new_vx
    lip[Y] += dt * new_vy
    return damped, given


@compiled(**INNER)
def pressed(motion, c, lip, tension, before, firm):
    """Energy in J that lips take up while they grow from `before` to `firm` times as firm, where
    they are: spring and contact hold more, the same momentum moves more slowly."""
    x, y = lip[X], lip[Y]
    moving = lip[PX] * lip[PX] + lip[PY] * lip[PY]
    if motion == SWING:
        omega = 6.283185307179586 * tension
        stiffness, mass, lips = c[13] * omega * omega, c[13], c[0] * c[2]
    else:
        stiffness, mass, lips = 0.5 * c[6] * tension, c[6] / (78.95683520871486 * tension), 2.0
    root = sqrt(y * y + c[9] * c[9])
    # of the contact: the force is c[8] (root - y)/2
    held = 0.25 * c[8] * (y * y - y * root - c[9] * c[9] * log((y + root) / c[9]))
    dx, dy = x - c[3], y - c[4]
    far = dx * dx + dy * dy
    held += 0.5 * far
    if motion != SWING:
        held += far * far * far * c[12] * c[12] / 6.0
        if y > 0.0:
            held += c[11] * c[11] * y * y * y * (0.25 * y - c[4] / 3.0)
    kinetic = 0.5 * moving * (1.0 / firm - 1.0 / before) / mass
    return lips * (stiffness * held * (firm - before) + kinetic)


@compiled(**INNER)
def lips(motion, c, lip, tension, damping, firm, mouth, back, zc, admittance, rho, dt):
    """The four pieces in a row: one sample of lips on a bore from which `back` (Pa, twice the
    wave) comes.

    Returns pressure, flow, opening, jet flow, the power lost in damping and what the lips are
    given without a flow (`move`).
    """
    gap, open_share, swept, area, a, a_squared, recovery = opening_of(motion, c, lip, zc, rho)
    pressure, jet, across, channel = jet_of(
        a, a_squared, recovery, swept, mouth, back, zc, admittance
    )
    mass, resistance, fx, fy = forces_of(
        motion, c, lip, tension, damping, firm, gap, open_share, across, channel
    )
    damped, given = move(motion, c, lip, open_share, across, channel, mass, resistance, fx, fy, dt)
    return pressure, jet + swept, area, jet, damped, given
