"""The compiled loops: arrays and floats in, a status code out. The only home of numba.

What it costs.
`pytest tests/benchmarks -m benchmark -n 0 -s` on two virtual cores of an AMD EPYC (Zen 4), Python
3.11, numba 0.68, one second of sound at 48 kHz:

- lips alone; time 2.13 ms
- trumpet (1.39 m); time 5.0 ms; ratio 2.35 times the lips (2.27 to 2.51 in a dozen runs, the high
    ones in minutes when the host was slow), 200 times real time
- the same, energy booked; time 5.7 ms
- the same with a mouth; ratio 1.06 to 1.10 without books, 1.06 to 1.09 with; 1.2 while the tongue
    moves (what the loop then needs is worked out for each sample)
- tuba (5.58 m); time 11.5 ms; ratio 2.2 to 2.9 trumpets
- steepening; time 8.2 ms; ratio 1.5 to 1.6 times the loop
- plain convolution, 4096 taps; time 162 ms; ratio 27 to 33 times the loop
- `solve_ivp` (LSODA) on the modes to 5.9 kHz, first fiftieth of a second; time 47 s; ratio 8000
    to 10 000 times
- map of 2400 notes of 0.4 s; time 25 s, two workers 13 s; ratio 1.83 to 2.07 (1.56 once, in a
    slow minute)
- `lipmodel --help`; time 0.05 s
- `render scenes/note.toml`; time 1.8 s (1.62 to 1.95; up to 2.6 in slow minutes); 12 to 15 s with
    empty caches

Eight times the sound costs 7 to 7.5 times as much.

What made the loop fast: no slices and no reference counts in it; helpers written into it; telling
the compiler that the arrays do not overlap (`kernels/compiler.py`; comparing six places costs
some 5 ns, as much as a dozen junctions, each time); shelves for half of the cells (a tenth); and
the lips in four pieces between stretches of cells (`kernels/lips.py`): the lips wait for roots
and divisions, the cells for memory, and a processor does both at once if they lie near each
other. What did not help: the order of lips and cells as wholes, vectors of 256 bits in place of
512, constant lengths of the loops. Maps: an array of a few megabytes is fetched from the system
page by page each time unless the allocator has once kept a larger one (`waveguide/time_loop.py`);
without that a map takes a fifth longer, a single half second two thirds.

A sweep of a million notes on a Dask cluster, on paper. A note of 0.4 s with its lock costs 10.7
ms of one core, so 10^6 cost 3.0 core hours: 2.8 minutes on 64 cores. A task is a row's piece of
twelve notes (`studies.map.CHUNK`), about a tenth of a second: 83 000 tasks. A Dask scheduler
hands out some thousand a second at best (its documentation: about 200 microseconds to 1 ms a
task, from memory), so it is busy for about a minute and a half and no bound up to some hundred
cores; above that pieces should be ten times longer. What comes back is four numbers a note, 32 MB
in all; horn and bore go out once a worker, about a megabyte. Starting a worker (imports and the
compiled loop) takes about two seconds, a first compilation fifteen. The whole is kept every two
seconds and taken up again.
"""
