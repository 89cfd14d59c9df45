"""Where a sound is heard an octave from the pitch that was found in the mouthpiece."""

import numpy as np

from lipmodel.analysis.pitch import HOP, double_rate, half_rate

SHORTEST = 0.1  # s


def octave_low(times, track, sound, rate) -> list[dict]:
    """Stretches in which `sound` at `rate` Hz repeats only every second period of the pitch
    `track` (Hz) at `times` (s): start, end, the octave, and the frequency (Hz) that is heard
    halfway."""
    return _stretches(half_rate(times, track, sound, rate), times, track, -1)


def octaves_off(times, track, sound, rate) -> list[dict]:
    """The same, and stretches in which nearly all of `sound` lies in every second harmonic of
    `track`, in the order of time."""
    high = _stretches(double_rate(times, track, sound, rate), times, track, 1)
    both = octave_low(times, track, sound, rate) + high
    return sorted(both, key=lambda row: row["start_s"])


def _stretches(where, times, track, octave) -> list[dict]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], where, [False]]).astype(int)))
    rows = []
    for first, stop in edges.reshape(-1, 2):
        if times[stop - 1] - times[first] < SHORTEST:
            continue
        middle = float(track[(first + stop) // 2]) * 2.0**octave
        end = float(times[stop - 1]) + HOP
        rows.append({"start_s": round(float(times[first]), 3), "end_s": round(end, 3),
                     "octave": octave, "frequency_hz": round(middle, 2)})  # fmt: skip
    return rows
