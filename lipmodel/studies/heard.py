"""Where a sound is heard an octave below the pitch that was found: every second swing differs."""

import numpy as np

from lipmodel.analysis.pitch import HOP, half_rate

SHORTEST = 0.1  # s


def octave_low(times, track, sound, rate) -> list[dict]:
    """Stretches in which `sound` at `rate` Hz repeats only every second period of the pitch
    `track` (Hz) at `times` (s): start, end, and the frequency (Hz) that is heard halfway."""
    doubled = half_rate(times, track, sound, rate)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], doubled, [False]]).astype(int)))
    rows = []
    for first, stop in edges.reshape(-1, 2):
        if times[stop - 1] - times[first] < SHORTEST:
            continue
        middle = float(track[(first + stop) // 2]) / 2
        end = float(times[stop - 1]) + HOP
        rows.append({"start_s": round(float(times[first]), 3), "end_s": round(end, 3),
                     "frequency_hz": round(middle, 2)})  # fmt: skip
    return rows
