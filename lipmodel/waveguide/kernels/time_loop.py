"""The only time loop.

Arrays and floats in, arrays filled in place, a status code out: no classes, no strings, no
allocation, no errors raised.  `waveguide/time_loop.py` checks what goes in and turns the
code into words.

One sample, in this order: (1) what arrives at lips, throat, station and open end is read before
the cells advance; (2) jet, swept flow and bore wave are solved together; (3) the lips move; (4)
junctions scatter, the mouthpiece's throat with a loss; (5) shelves lose; (6) lines delay and
lose.  The equations are in `lips.py` and `ladder.py`.  (2) and (3) take turns with stretches
of (4) and (5): the lips are a chain of roots and divisions that wait for each other, the cells
are memory on its way, and a processor does both at once if they lie near each other.

Waves are not copied from cell to cell.  The wave to the right at cell i is right[r + i] and r
falls by one a sample; the one to the left is left[l + i] and l rises: scattering in place is
then the whole of the delay.
"""

from math import fabs, isfinite, sqrt

from numba import uint64

from lipmodel.waveguide.kernels.compiler import INNER, OUTER, compiled
from lipmodel.waveguide.kernels.lines import line, moving_line
from lipmodel.waveguide.kernels.lips import forces_of, jet_of, move, opening_of, pressed

OK = 0
DIVERGED = 1
# fields of `books`: energy in joules, summed
BOOKS = (
    "blown", "into_bore", "wall", "radiated", "jet", "damped", "channel", "throat", "fades",
    "player", "lungs", "glottis",
)  # fmt: skip
BLOWN, INTO_BORE, WALL, RADIATED, JET, DAMPED, CHANNEL, THROAT, FADES, PLAYER = range(10)
LUNGS, GLOTTIS = 10, 11


@compiled(**INNER)
def scatter(start, stop, r, l, k, right, left):
    """(4) Kelly-Lochbaum junctions in place, pressure waves, k = (Y1 - Y2)/(Y1 + Y2).

    Indices are unsigned: signed ones would be tested for counting from the end, and slices would
    be counted references, at 5 ns each.
    """
    for i in range(uint64(start), uint64(stop)):
        step = k[i] * (right[r + i] - left[l + i])
        right[r + i] += step
        left[l + i] += step


@compiled(**INNER)
def lose_right(start, stop, r, l, k, right, left, weight, coefficient, memory, drain):
    """(4) and (5): junctions, then a first-order shelf on the wave to the right:
    1 - w (1 - z^-1)/(1 - (1 - c) z^-1).  `drain` sums what the shelf takes, or is None."""
    for i in range(uint64(start), uint64(stop)):
        step = k[i] * (right[r + i] - left[l + i])
        wave = right[r + i] + step
        high = wave - memory[i]
        memory[i] += coefficient[i] * high
        kept = wave - weight[i] * high
        right[r + i] = kept
        left[l + i] += step
        if drain is not None:
            drain[i] += wave * wave - kept * kept


@compiled(**INNER)
def lose_left(start, stop, r, l, k, right, left, weight, coefficient, memory, drain):
    """The same with the shelf on the wave to the left."""
    for i in range(uint64(start), uint64(stop)):
        step = k[i] * (right[r + i] - left[l + i])
        wave = left[l + i] + step
        high = wave - memory[i]
        memory[i] += coefficient[i] * high
        kept = wave - weight[i] * high
        left[l + i] = kept
        right[r + i] += step
        if drain is not None:
            drain[i] += wave * wave - kept * kept


@compiled(**INNER)
def _throat(i, law, r, l, right, left):
    """Loss at junction i: the flow through the throat that it takes away, and the power, W.

    With u the flow and a, b the waves that arrive: 2 (a - b) - (Z1 + Z2) u = kappa u |u|, one
    quadratic, passive whatever they are.  `law` = Z1, Z2 of both cells, kappa with the flow and
    against it, 1/(Z1 + Z2).  The waves that leave the junction are then Z2 and Z1 times the
    flow taken away weaker and stronger: added after the cells, since what was just written to
    one place is slow to read with its neighbours.
    """
    drop = 2.0 * (right[r + i] - left[l + 1 + i])
    both = law[0] + law[1]
    kappa = law[2] if drop > 0.0 else law[3]
    size = 2.0 * fabs(drop) / (both + sqrt(both * both + 4.0 * kappa * fabs(drop)))
    less = drop * law[4] - (size if drop > 0.0 else -size)
    return less, kappa * size * size * size


@compiled(**INNER)
def turn_back(leaving, end_b, end_a, memory):
    """The wave that the open end sends back: a filter of fourth order."""
    turned = end_b[0] * leaving + memory[0]
    memory[0] = end_b[1] * leaving - end_a[1] * turned + memory[1]
    memory[1] = end_b[2] * leaving - end_a[2] * turned + memory[2]
    memory[2] = end_b[3] * leaving - end_a[3] * turned + memory[3]
    memory[3] = end_b[4] * leaving - end_a[4] * turned
    return turned


@compiled(**INNER)
def step_cells(edge, r, l, k, right, left, weight, coefficient, memory, drain):
    """All junctions and shelves of a sample, by the stretches that begin at `edge`."""
    r, l = uint64(r), uint64(l + 1)
    lose_right(edge[0], edge[1], r, l, k, right, left, weight, coefficient, memory, drain)
    scatter(edge[1], edge[2], r, l, k, right, left)
    lose_left(edge[2], edge[3], r, l, k, right, left, weight, coefficient, memory, drain)
    scatter(edge[3], edge[4], r, l, k, right, left)


@compiled(**INNER)
def back_to_start(padded, room, right, left):
    """Move the waves, when their arrays are used up, to where they began."""
    for i in range(padded - 1, -1, -1):
        right[room + i] = right[i]
    for i in range(padded + 1):
        left[i] = left[room + i]


@compiled(**OUTER)
def advance(
    dt, rho, limit, motion, constants,
    admittance, scattering, weight, coefficient, edge, end_b, end_a,
    line_cell, tap_a, tap_b, fade_scale, poles, sliding, near, far, longest,
    throat, throat_law, station, station_mix,
    mouth, upstream, tension, damping, firm, mix, added, gain,
    lip, tract, right, left, memory, end_memory, buffers, place, line_memory, line_old, drain,
    books,
    pressure, flow, opening, out_wave, back_wave, entering, in_mouth,
):  # fmt: skip
    """Advance by len(mouth) samples; return (status, samples done).

    scattering, weight, coefficient, memory, drain: of junctions, padded by zeros to (padded,)
    edge: where stretches of junctions begin, (5,): with shelves on the wave to the right, without,
    with shelves on the wave to the left, without
    right, left: the waves, shape (padded + room,)
    buffers: (m, 2, size) lines to the right and left, size a power of two
    place: where right and left begin and where the lines are written
    drain: what the shelves took, in Pa^2 samples, junctions (padded) then lines; or None: then
        no energy is booked
    sliding: the line of a moving slide, or -1; near, far: its delay without the slide, (2,), and
    its taps with `longest` samples of it, (2, 7), valves from and to; added: samples it adds
    throat, throat_law: junction with a loss and no shelf, or -1, and its law (`_throat`)
    station, station_mix: junction (-1: the lips) where the wave towards the open end is noted,
    not the throat's, and the shares in it of what arrives there from both sides, (2,)
    mouth: what the lips are blown with, or the lungs with upstream, the law of the air in the
    mouth (`lipmodel.mouth.Mouth.law`), (9, samples) or (9, 1) where it stands, or None
    tract: what that air stores, its cavity and its channel, (2,), each square 4/dt J
    mix, fade_scale: how far lines have faded from one tap to the other, and what they are scaled
    by meanwhile, (m, samples), or (m, 0) where nothing fades
    Fills pressure (Pa), flow (m3/s), opening (m2) at the lips, the waves (Pa) at the last cell's
    far end and the wave entering at the station; with upstream the pressure in the mouth.
    """
    n = admittance.shape[0]
    padded = scattering.shape[0]
    room = right.shape[0] - padded - 1
    zc = 1.0 / admittance[0]
    r, l, at = place[0], place[1], place[2]
    mask = buffers.shape[2] - 1
    fading = fade_scale.shape[1] > 0
    z_lips, y_lips, own = zc, admittance[0], uint64(0)
    for t in range(mouth.shape[0]):
        arriving = left[l]
        leaving = right[r + n - 1]
        onward, coming = 0.0, 0.0
        if station >= 0:
            onward, coming = right[r + station], left[l + 1 + station]
        less, lost = 0.0, 0.0
        if throat >= 0:
            less, lost = _throat(throat, throat_law, r, l, right, left)
        blown = mouth[t]
        if upstream is not None:
            own = uint64(min(t, upstream.shape[1] - 1))
            z_lips, y_lips = upstream[1, own], upstream[2, own]
            blown = upstream[3, own] * tract[0] + upstream[4, own] * (
                mouth[t] + upstream[5, own] * tract[1]
            )
        gap, open_share, swept, area, a, a_squared, recovery = opening_of(
            motion, constants, lip, z_lips, rho
        )
        first, second = uint64(r), uint64(l + 1)
        lose_right(
            edge[0], edge[1], first, second, scattering, right, left,
            weight, coefficient, memory, drain,
        )  # fmt: skip
        p, jet, across, channel = jet_of(
            a, a_squared, recovery, swept, blown, 2.0 * arriving, z_lips, y_lips
        )
        if upstream is not None:
            fall = upstream[0, own] * (jet + swept)
            blown, p, channel = blown - fall, p - fall, channel - fall
            fed = upstream[6, own] * (mouth[t] - blown + upstream[5, own] * tract[1])
            tract[0] = upstream[7, own] * blown - tract[0]
            tract[1] = 2.0 * upstream[5, own] * fed - tract[1]
            in_mouth[t] = blown
            if drain is not None:
                books[LUNGS] += mouth[t] * fed * dt
                books[GLOTTIS] += upstream[8, own] * fed * fed * dt
        if not isfinite(p) or fabs(p) > limit:
            place[0], place[1], place[2] = r, l, at
            return DIVERGED, t
        scatter(edge[1], edge[2], first, second, scattering, right, left)
        mass, resistance, fx, fy = forces_of(
            motion, constants, lip, tension[t], damping[t], firm[t], gap, open_share, across,
            channel,
        )  # fmt: skip
        work = 0.0
        if drain is not None and t > 0 and firm[t] != firm[t - 1]:
            work = pressed(motion, constants, lip, tension[t], firm[t - 1], firm[t])
        lose_left(
            edge[2], edge[3], first, second, scattering, right, left,
            weight, coefficient, memory, drain,
        )  # fmt: skip
        damped, given = move(
            motion, constants, lip, open_share, across, channel, mass, resistance,
            fx, fy, dt,
        )  # fmt: skip
        scatter(edge[3], edge[4], first, second, scattering, right, left)
        if throat >= 0:
            right[r + throat] -= throat_law[1] * less
            left[l + 1 + throat] += throat_law[0] * less
        if station < 0:
            onward, coming = p - arriving, arriving
        entering[t] = station_mix[0] * onward + station_mix[1] * coming
        turned = turn_back(leaving, end_b, end_a, end_memory)
        u = jet + swept
        if r == 0:
            back_to_start(padded, room, right, left)
            r, l = room, 0
        r -= 1
        l += 1
        right[r] = p - arriving
        left[l + n - 1] = turned
        pressure[t], flow[t], opening[t] = p, u, area
        out_wave[t], back_wave[t] = leaving, turned
        if drain is not None:
            books[BLOWN] += blown * u * dt
            books[INTO_BORE] += p * u * dt
            books[JET] += (blown - p) * jet * dt
            books[DAMPED] += damped * dt
            books[CHANNEL] += given * dt
            books[THROAT] += lost * dt
            books[PLAYER] += work
            books[RADIATED] += (leaving * leaving - turned * turned) * admittance[n - 1] * dt
        # (6): a line's cell has no shelf of its own
        at = (at + 1) & mask
        for m in range(line_cell.shape[0]):
            cell = line_cell[m]
            scale = fade_scale[m, t] if fading else 1.0
            buffers[m, 0, at] = right[r + cell]
            buffers[m, 1, at] = left[l + cell]
            if m == sliding:
                came, right[r + cell] = moving_line(
                    buffers, m, 0, at, near, added[t], gain[t], added[t] / longest,
                    tap_a, tap_b, far, fading, mix[t], scale, poles, line_memory,
                )  # fmt: skip
                back, left[l + cell] = moving_line(
                    buffers, m, 1, at, near, added[t], gain[t], added[t] / longest,
                    tap_a, tap_b, far, fading, mix[t], scale, poles, line_memory,
                )  # fmt: skip
            else:
                came, right[r + cell] = line(
                    buffers, m, 0, at, tap_a, tap_b, fading, mix[t], scale, poles,
                    line_memory, line_old,
                )  # fmt: skip
                back, left[l + cell] = line(
                    buffers, m, 1, at, tap_a, tap_b, fading, mix[t], scale, poles,
                    line_memory, line_old,
                )  # fmt: skip
            if drain is not None:
                taken = came**2 - right[r + cell] ** 2 + back**2 - left[l + cell] ** 2
                books[WALL] += admittance[cell] * taken * dt
                drain[padded + m] += taken
                if fading:  # what lines then hold is taken from this by the caller
                    given = buffers[m, 0, at] ** 2 + buffers[m, 1, at] ** 2 - came**2 - back**2
                    books[FADES] += admittance[cell] * given * dt
    place[0], place[1], place[2] = r, l, at
    return OK, mouth.shape[0]
