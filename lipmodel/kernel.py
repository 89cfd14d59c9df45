"""The only time loop, and the only module that imports numba.

Arrays and floats in, arrays filled in place, a status code out: no classes, no strings, no
allocation, no errors raised.  `timeloop.py` checks what goes in and turns the code into words.

One sample, in this order: (1) the wave arriving at the lips is read before the cells advance;
(2) jet, swept flow and bore wave are solved together; (3) the lips move; (4) junctions scatter,
the mouthpiece's throat with a loss; (5) shelves lose; (6) lines delay and lose.  The
equations are in `lips.py` and `waveguide.py`.

Waves are not copied from cell to cell.  The wave to the right at cell i is right[r + i] and r
falls by one a sample; the one to the left is left[l + i] and l rises: scattering in place is
then the whole of the delay.
"""

from math import fabs, isfinite, sqrt

from llvmlite import binding
from numba import njit, uint64

# the ladder's loop works on six arrays: let the compiler check that they do not overlap (by
# default it gives up at eight comparisons and computes one cell at a time, four times slower)
binding.set_option("lipmodel", "-runtime-memory-check-threshold=64")

# No reference counts (nothing is allocated, and counting costs 5 ns a time); helpers are written
# into the loop, since as calls they cost three times what they compute.  No fastmath: results
# must not differ between machines.
OUTER = {"cache": True, "error_model": "numpy", "_nrt": False}
INNER = {**OUTER, "inline": "always"}

OK = 0
DIVERGED = 1

BOTH, SWING, LIFT = 0, 1, 2  # motion of the lips
# fields of `lip`, the lips' state: position, momentum, velocity now and a sample before
X, Y, PX, PY, VX, VY, WX, WY = 0, 1, 2, 3, 4, 5, 6, 7
# fields of `books`: energy in joules, summed
BLOWN, INTO_BORE, WALL, RADIATED, JET, DAMPED, CHANNEL, THROAT = 0, 1, 2, 3, 4, 5, 6, 7


@njit(**INNER)
def _lose_right(start, stop, r, l, k, right, left, weight, coefficient, memory, drain):
    """(4) and (5): Kelly-Lochbaum junctions in place, pressure waves, k = (Y1 - Y2)/(Y1 + Y2);
    then a first-order shelf on the wave to the right: 1 - w (1 - z^-1)/(1 - (1 - c) z^-1).

    `drain` sums what the shelf takes, or is None.  Indices are unsigned: signed ones would be
    tested for counting from the end, and slices would be counted references, at 5 ns each.
    """
    for i in range(start, stop):
        step = k[i] * (right[r + i] - left[l + i])
        wave = right[r + i] + step
        high = wave - memory[i]
        memory[i] += coefficient[i] * high
        kept = wave - weight[i] * high
        right[r + i] = kept
        left[l + i] += step
        if drain is not None:
            drain[i] += wave * wave - kept * kept


@njit(**INNER)
def _lose_left(start, stop, r, l, k, right, left, weight, coefficient, memory, drain):
    """The same with the shelf on the wave to the left."""
    for i in range(start, stop):
        step = k[i] * (right[r + i] - left[l + i])
        wave = left[l + i] + step
        high = wave - memory[i]
        memory[i] += coefficient[i] * high
        kept = wave - weight[i] * high
        left[l + i] = kept
        right[r + i] += step
        if drain is not None:
            drain[i] += wave * wave - kept * kept


@njit(**INNER)
def _read(buffers, m, way, at, tap, which, old):
    """A delay of whole samples and a first-order Thiran allpass; `old` = last in, last out."""
    mask = buffers.shape[2] - 1
    x = buffers[m, way, (at + 1 - int(tap[m, 0])) & mask]
    y = tap[m, 1] * (x - old[m, way, which, 1]) + old[m, way, which, 0]
    old[m, way, which, 0] = x
    old[m, way, which, 1] = y
    return y


@njit(**INNER)
def _line(buffers, m, way, at, tap_a, tap_b, mix, scale, poles, memory, old):
    """(6) one way through a line; `tap` = whole, allpass, five shelf weights.

    Returns the wave before and after its losses.
    """
    before = _read(buffers, m, way, at, tap_a, 0, old)
    if scale != 1.0:
        other = _read(buffers, m, way, at, tap_b, 1, old)
        before = scale * ((1.0 - mix) * before + mix * other)
    lost = 0.0
    for j in range(5):
        high = before - memory[m, way, j]
        memory[m, way, j] += poles[j] * high
        lost += (tap_a[m, 2 + j] + mix * (tap_b[m, 2 + j] - tap_a[m, 2 + j])) * high
    return before, before - lost


@njit(**INNER)
def _lagrange(d):
    """Weights of four samples that read `d` samples back, 1 <= d <= 2: Lagrange's polynomial,
    h_n = product over k != n of (d - k)/(n - k).  Between the middle two it never amplifies."""
    a, b, c = d - 1.0, d - 2.0, d - 3.0
    return -a * b * c / 6.0, 0.5 * d * b * c, -0.5 * d * a * c, d * a * b / 6.0


@njit(**INNER)
def _read_between(buffers, m, way, at, delay):
    """A delay of any length from 2 samples up that may change from sample to sample."""
    mask = buffers.shape[2] - 1
    whole = int(delay) - 2  # the line's cell is the first sample, `_lagrange` one or two more
    h0, h1, h2, h3 = _lagrange(delay - 1.0 - whole)
    i = at - whole
    return (
        h0 * buffers[m, way, i & mask]
        + h1 * buffers[m, way, (i - 1) & mask]
        + h2 * buffers[m, way, (i - 2) & mask]
        + h3 * buffers[m, way, (i - 3) & mask]
    )


@njit(**INNER)
def _moving_line(
    buffers, m, way, at, near, added, gain, share, tap_a, tap_b, far, mix, scale, poles, memory
):  # fmt: skip
    """(6) for the line of a moving slide, which adds `added` samples to `near` (valves from, to).

    `gain` = sqrt(1 - D'): reading at D(t) multiplies energy by 1/(1 - D').  Shelf weights lie
    `share` of the way from those of the taps to those of `far`.
    """
    before = _read_between(buffers, m, way, at, near[0] + added)
    if scale != 1.0:
        other = _read_between(buffers, m, way, at, near[1] + added)
        before = scale * ((1.0 - mix) * before + mix * other)
    before *= gain
    lost = 0.0
    for j in range(5):
        high = before - memory[m, way, j]
        memory[m, way, j] += poles[j] * high
        here = tap_a[m, 2 + j] + mix * (tap_b[m, 2 + j] - tap_a[m, 2 + j])
        there = far[0, 2 + j] + mix * (far[1, 2 + j] - far[0, 2 + j])
        lost += (here + share * (there - here)) * high
    return before, before - lost


@njit(**INNER)
def _two_way_forces(c, motion, tension, thickness, open_share, gap, x, y, across, channel):
    """Force on one lip of the two-way model (and of `lift`, its upward half)."""
    stiffness = 0.5 * c[6] * tension
    dx, dy = x - c[3], y - c[4]
    far = (dx * dx + dy * dy) * c[12]
    harder = 1.0 + far * far
    lifted = y * c[11] if y > 0.0 else 0.0
    fy = stiffness * (c[8] * (gap - y) - dy * (harder + lifted * lifted))
    fy += c[0] * thickness * channel * open_share
    fx = 0.0
    if motion == BOTH:
        fx = c[0] * across * (c[2] - y) - stiffness * dx * harder
        fy += c[0] * across * (x - c[1])
    return fx, fy


@njit(**INNER)
def _lips(motion, c, lip, tension, damping, thickness, mouth, back, zc, admittance, rho, dt):
    """(2) and (3): flow, pressure and the next position of the lips (`lips.py` has the equations
    and the order of the constants `c`; `damping` is 1/Q).

    Returns pressure, flow, opening, jet flow, the power lost in damping and what the pressure in
    the channel gives the lips.
    """
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
    still = back + zc * swept
    drop = mouth - still
    a = sqrt(a_squared)
    speed = 2.0 * fabs(drop) / (a + sqrt(a_squared + 4.0 * fabs(drop)))
    across = speed * speed if drop > 0.0 else -speed * speed
    pressure = mouth - across
    jet = a * speed * admittance if drop > 0.0 else -a * speed * admittance
    channel = (mouth if drop > 0.0 else pressure) - speed * speed * recovery
    area = wide / narrowing

    resistance = open_share * damping + (1.0 - open_share) * c[7]
    if motion == SWING:
        mass = c[13]
        omega = 6.283185307179586 * tension
        resistance *= mass * omega
        fx = 0.0
        fy = across - mass * omega * omega * (y - c[4] - c[8] * (gap - y))
    else:
        mass = c[6] / (78.95683520871486 * tension)  # half of kappa/(4 pi^2 f)
        resistance *= c[6] / 12.566370614359172
        fx, fy = _two_way_forces(
            c, motion, tension, thickness, open_share, gap, x, y, across, channel
        )
    # momentum, so that a mass that changes with tension takes no energy from nowhere
    half = 0.5 * dt * resistance
    share = 1.0 / (mass + half)
    new_vx = (lip[PX] + dt * fx - half * lip[VX]) * share
    new_vy = (lip[PY] + dt * fy - half * lip[VY]) * share
    mean_x, mean_y = 0.5 * (new_vx + lip[VX]), 0.5 * (new_vy + lip[VY])
    damped = lips * resistance * (mean_x * mean_x + mean_y * mean_y)
    lifted = 0.0 if motion == SWING else lips * c[0] * thickness * channel * open_share * mean_y
    lip[WX], lip[WY], lip[VX], lip[VY] = lip[VX], lip[VY], new_vx, new_vy
    lip[PX], lip[PY] = mass * new_vx, mass * new_vy
    lip[X] = x + dt * new_vx
    lip[Y] = y + dt * new_vy
    return pressure, jet + swept, area, jet, damped, lifted


@njit(**INNER)
def _throat(i, law, r, l, right, left):
    """Loss at junction i: the waves that arrive there, made such that scattering them without
    loss gives what leaves with it; returns the power lost, W.

    2 (a - b) - (Z1 + Z2) u = kappa u |u| for the waves a and b that arrive: one quadratic, and
    passive whatever they are.  `law` = Z1, Z2 of both cells, kappa with the flow and against it.
    """
    drop = 2.0 * (right[r + i] - left[l + 1 + i])
    both = law[0] + law[1]
    kappa = law[2] if drop > 0.0 else law[3]
    size = 2.0 * fabs(drop) / (both + sqrt(both * both + 4.0 * kappa * fabs(drop)))
    less = drop / both - (size if drop > 0.0 else -size)
    right[r + i] -= law[0] * less
    left[l + 1 + i] += law[1] * less
    return kappa * size * size * size


@njit(**INNER)
def _step_cells(
    n, r, l, turn, padded, scattering, weight, coefficient, end_b, end_a,
    right, left, memory, end_memory, drain,
):  # fmt: skip
    """Junctions, shelves and the open end; returns the waves leaving and turned at the end."""
    leaving = right[r + n - 1]
    turned = end_b[0] * leaving + end_memory[0]
    end_memory[0] = end_b[1] * leaving - end_a[1] * turned + end_memory[1]
    end_memory[1] = end_b[2] * leaving - end_a[2] * turned + end_memory[2]
    end_memory[2] = end_b[3] * leaving - end_a[3] * turned + end_memory[3]
    end_memory[3] = end_b[4] * leaving - end_a[4] * turned
    _lose_right(
        uint64(0), uint64(turn), uint64(r), uint64(l + 1),
        scattering, right, left, weight, coefficient, memory, drain,
    )  # fmt: skip
    _lose_left(
        uint64(turn), uint64(padded), uint64(r), uint64(l + 1),
        scattering, right, left, weight, coefficient, memory, drain,
    )  # fmt: skip
    return leaving, turned


@njit(**INNER)
def _back_to_start(padded, room, right, left):
    """Move the waves, when their arrays are used up, to where they began."""
    for i in range(padded - 1, -1, -1):
        right[room + i] = right[i]
    for i in range(padded + 1):
        left[i] = left[room + i]


@njit(**OUTER)
def advance(
    dt, rho, limit, motion, constants,
    admittance, scattering, weight, coefficient, turn, end_b, end_a,
    line_cell, tap_a, tap_b, fade_scale, poles, sliding, near, far, longest,
    throat, throat_law, station, station_mix,
    mouth, tension, damping, thickness, mix, added, gain,
    lip, right, left, memory, end_memory, buffers, place, line_memory, line_old, drain, books,
    pressure, flow, opening, out_wave, back_wave, entering,
):  # fmt: skip
    """Advance by len(mouth) samples; return (status, samples done).

    scattering, weight, coefficient, memory, drain: of junctions, padded by zeros to (padded,)
    right, left: the waves, shape (padded + room,)
    buffers: (m, 2, size) lines to the right and left, size a power of two
    place: where right and left begin and where the lines are written
    drain: what the shelves took, in Pa^2 samples, junctions (padded) then lines; or None: then
        no energy is booked
    sliding: the line of a moving slide, or -1; near, far: its delay without the slide, (2,), and
    its taps with `longest` samples of it, (2, 7), valves from and to; added: samples it adds
    throat, throat_law: junction with a loss, or -1, and its law (`_throat`)
    station, station_mix: junction (-1: the lips) where the wave towards the open end is noted,
    and the shares in it of what arrives there from both sides
    Fills pressure (Pa), flow (m3/s), opening (m2) at the lips, the waves (Pa) at the last cell's
    far end and the wave entering at the station.
    """
    n = admittance.shape[0]
    padded = scattering.shape[0]
    room = right.shape[0] - padded - 1
    zc = 1.0 / admittance[0]
    r, l, at = place[0], place[1], place[2]
    mask = buffers.shape[2] - 1
    for t in range(mouth.shape[0]):
        # (1) to (3)
        arriving = left[l]
        p, u, area, jet, damped, lifted = _lips(
            motion, constants, lip, tension[t], damping[t], thickness[t],
            mouth[t], 2.0 * arriving, zc, admittance[0], rho, dt,
        )  # fmt: skip
        if not isfinite(p) or fabs(p) > limit:
            place[0], place[1], place[2] = r, l, at
            return DIVERGED, t
        lost = _throat(throat, throat_law, r, l, right, left) if throat >= 0 else 0.0
        if station >= 0:
            onward, coming = right[r + station], left[l + 1 + station]
        else:
            onward, coming = p - arriving, arriving
        entering[t] = station_mix[0] * onward + station_mix[1] * coming
        leaving, turned = _step_cells(
            n, r, l, turn, padded, scattering, weight, coefficient, end_b, end_a,
            right, left, memory, end_memory, drain,
        )  # fmt: skip
        if r == 0:
            _back_to_start(padded, room, right, left)
            r, l = room, 0
        r -= 1
        l += 1
        right[r] = p - arriving
        left[l + n - 1] = turned
        pressure[t], flow[t], opening[t] = p, u, area
        out_wave[t], back_wave[t] = leaving, turned
        if drain is not None:
            books[BLOWN] += mouth[t] * u * dt
            books[INTO_BORE] += p * u * dt
            books[JET] += (mouth[t] - p) * jet * dt
            books[DAMPED] += damped * dt
            books[CHANNEL] += lifted * dt
            books[THROAT] += lost * dt
            books[RADIATED] += (leaving * leaving - turned * turned) * admittance[n - 1] * dt
        # (6): a line's cell has no shelf of its own
        at = (at + 1) & mask
        for m in range(line_cell.shape[0]):
            cell = line_cell[m]
            buffers[m, 0, at] = right[r + cell]
            buffers[m, 1, at] = left[l + cell]
            if m == sliding:
                came, right[r + cell] = _moving_line(
                    buffers, m, 0, at, near, added[t], gain[t], added[t] / longest,
                    tap_a, tap_b, far, mix[t], fade_scale[m], poles, line_memory,
                )  # fmt: skip
                back, left[l + cell] = _moving_line(
                    buffers, m, 1, at, near, added[t], gain[t], added[t] / longest,
                    tap_a, tap_b, far, mix[t], fade_scale[m], poles, line_memory,
                )  # fmt: skip
            else:
                came, right[r + cell] = _line(
                    buffers, m, 0, at, tap_a, tap_b, mix[t], fade_scale[m], poles,
                    line_memory, line_old,
                )  # fmt: skip
                back, left[l + cell] = _line(
                    buffers, m, 1, at, tap_a, tap_b, mix[t], fade_scale[m], poles,
                    line_memory, line_old,
                )  # fmt: skip
            if drain is not None:
                taken = came**2 - right[r + cell] ** 2 + back**2 - left[l + cell] ** 2
                books[WALL] += admittance[cell] * taken * dt
                drain[padded + m] += taken
    place[0], place[1], place[2] = r, l, at
    return OK, mouth.shape[0]
