"""The machine: signals, worker processes, versions. Nothing of brass.

When something goes wrong.
What is being made lies aside under a hidden name, `.NAME.lipmodel-XXXXXXXX`, and gets its own by
a rename when it is whole; the take before becomes `.previous`, or nothing has moved. Its process
holds a lock (flock) on it, which the system lets go of whatever ends the process; who makes NAME
again removes what nobody holds, so a process id that came round again, or another machine's,
cannot mislead it. Scratch folders are made so too, in TMPDIR. A process that finds another's
renames in the way of its own takes back what it moved and tries again. Where there is no flock
(Windows, some network disks) nothing is cleared away. Killed between its renames a run leaves the
earlier take as `.previous` only. Nothing is forced to the disk: a power cut is not covered.

Ctrl-C, SIGTERM and SIGHUP are only noted (`system/signals.py`); `errors.check_stop` raises
`Stopped`, once, where work looks up: before each block of a time loop, each task and each piece
of a long sound, in the waits for workers, and before a rename. There nothing is half done, so
nothing needs to be held together. A stop waits for the C call that runs (the compiler, a figure);
what takes longer than a second should look up. The signals after the first do nothing, but
Ctrl-C, which ends the process at once: what that leaves aside the next run clears away. Exit code
128 and the number of the signal. The second process that draws ends with its input; a worker
watches its parent, for it holds both ends of the queue of tasks and would wait for ever.

What is kept between runs (`files/cache.py`, `kernels/own_cache.py`) begins with a digest of
itself: numba trusts its own cache, and a damaged or stale file there ends the program or runs
what the source no longer says. A numba whose private modules have changed plays all the same:
compiled in each process and kept nowhere. An `OSError` that no writer turned into a sentence
becomes one in `commands/main.py`. `tests/whole/test_faults.py` does all of this to real processes
at fixed moments; what draws the moment is marked long.
"""
