"""The time loop without a player: a source puts flow into the ladder, or a click comes back.

Cells, shelves, lines and waves are advanced by the functions of `time_loop.py` and
`lines.py`.  The same rules: arrays and floats in, arrays filled in place, nothing
allocated, no fastmath.

One sample: (1) the wave arriving at the lip end is read and turned there by a filter of the
order of the open end's; (2) junctions scatter, shelves lose; (3) the source adds its flow;
(4) lines delay and lose.
"""

from math import fabs, isfinite, tanh

from lipmodel.waveguide.kernels.compiler import OUTER, compiled
from lipmodel.waveguide.kernels.lines import cross_lines
from lipmodel.waveguide.kernels.time_loop import back_to_start, step_cells, turn_back

OK = 0
DIVERGED = 1
# fields of `books`: energy in joules, summed
GIVEN, WALL, RADIATED, LIP_RADIATED = 0, 1, 2, 3


@compiled(**OUTER)
def drive(
    dt, limit, admittance, scattering, weight, coefficient, edge, end_b, end_a,
    line_cell, tap, poles, lip_b, lip_a, lip_memory,
    at, given, lag, gain, top, impedance,
    right, left, memory, end_memory, buffers, place, line_memory, line_old, drain, books,
    flow, lip_pressure, source_pressure, velocity, out_wave, back_wave,
):  # fmt: skip
    """Advance by len(given) samples; return (status, samples done).

    at: the junction at which flow comes in, behind cell `at`; -1 for the lip end, closed then
    given: flow of the source, m3/s; on top of it top x tanh(gain x velocity `lag` samples ago),
        `lag` from 1 up; `impedance` is rho c there, Pa s/m
    drain: what the shelves took, in Pa^2 samples, junctions first (padded), then lines
    Fills flow (m3/s), pressure (Pa) at lip end and source, velocity (m/s) on the lip side of the
    source and the waves (Pa) at the last cell's far end.
    """
    n = admittance.shape[0]
    padded = scattering.shape[0]
    room = right.shape[0] - padded - 1
    r, l, w = place[0], place[1], place[2]
    mask = buffers.shape[2] - 1
    both = admittance[0] if at < 0 else admittance[at] + admittance[at + 1]
    for t in range(given.shape[0]):
        arriving = left[l]
        into = lip_b[0] * arriving + lip_memory[0]
        for j in range(3):
            lip_memory[j] = lip_b[j + 1] * arriving - lip_a[j + 1] * into + lip_memory[j + 1]
        lip_memory[3] = lip_b[4] * arriving - lip_a[4] * into
        books[LIP_RADIATED] += (arriving * arriving - into * into) * admittance[0] * dt
        came = right[r + at] if at >= 0 else 0.0
        leaving = right[r + n - 1]
        turned = turn_back(leaving, end_b, end_a, end_memory)
        step_cells(edge, r, l, scattering, right, left, weight, coefficient, memory, drain)
        u = given[t]
        if t >= lag:
            u += top * tanh(gain * velocity[t - lag])
        # continuity: both waves leaving the junction rise by the same pressure
        push = u / both
        if at < 0:
            books[GIVEN] += (2.0 * into + push) * push * both * dt
            into += push
            source_pressure[t] = arriving + into
        else:
            back, on = left[l + 1 + at], right[r + at]
            books[GIVEN] += (
                2.0 * (admittance[at] * back + admittance[at + 1] * on) + push * both
            ) * push * dt  # fmt: skip
            left[l + 1 + at] = back + push
            right[r + at] = on + push
            source_pressure[t] = came + back + push
            velocity[t] = (came - back - push) / impedance
        if not isfinite(u) or fabs(source_pressure[t]) > limit:
            place[0], place[1], place[2] = r, l, w
            return DIVERGED, t
        if r == 0:
            back_to_start(padded, room, right, left)
            r, l = room, 0
        r -= 1
        l += 1
        right[r] = into
        left[l + n - 1] = turned
        flow[t], lip_pressure[t] = u, arriving + into
        out_wave[t], back_wave[t] = leaving, turned
        books[RADIATED] += (leaving * leaving - turned * turned) * admittance[n - 1] * dt
        w = (w + 1) & mask
        cross_lines(
            line_cell, r, l, w, right, left, buffers, tap, poles, line_memory, line_old,
            drain, padded,
        )  # fmt: skip
    place[0], place[1], place[2] = r, l, w
    return OK, given.shape[0]


@compiled(**OUTER)
def echo(
    n, front, click, scattering, weight, coefficient, edge, end_b, end_a,
    line_cell, tap, poles,
    right, left, memory, end_memory, buffers, place, line_memory, line_old, response,
):  # fmt: skip
    """The ladder alone behind an anechoic tube that joins the first cell with reflection
    coefficient `front`: fill response with what comes back of the waves `click`."""
    padded = scattering.shape[0]
    room = right.shape[0] - padded - 1
    r, l, at = place[0], place[1], place[2]
    mask = buffers.shape[2] - 1
    for t in range(click.shape[0]):
        step = front * (click[t] - left[l])
        into = click[t] + step
        response[t] = left[l] + step
        turned = turn_back(right[r + n - 1], end_b, end_a, end_memory)
        step_cells(edge, r, l, scattering, right, left, weight, coefficient, memory, None)
        if r == 0:
            back_to_start(padded, room, right, left)
            r, l = room, 0
        r -= 1
        l += 1
        right[r] = into
        left[l + n - 1] = turned
        at = (at + 1) & mask
        cross_lines(
            line_cell, r, l, at, right, left, buffers, tap, poles, line_memory, line_old,
            None, padded,
        )  # fmt: skip
