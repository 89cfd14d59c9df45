"""How unsteady a held note came out, beside how unsteady the player was.

Locking is what keeps a note still on lips that are not: the pitch of a note that the tube holds
moves by a small part of what the lips do, a note that nothing holds by all of it.
"""

import numpy as np

from lipmodel.analysis.pitch import lowest_for, steady_pitch
from lipmodel.analysis.unrest import HOP, level_unrest, pitch_unrest
from lipmodel.player.performance import Performance
from lipmodel.player.steadiness import unsteady

AFTER = 0.4  # s: a note settles
SHORTEST, LONGEST = 0.5, 20.0  # s that are measured
GRID = 0.01  # s
ALIKE = 1e-6  # of a control: it stands still


def note_steadiness(performance: Performance, rows) -> list[dict | None]:
    """Of each note row (its `start_s`, `end_s`), while the player means to stand still: from when
    to when (s); rms of the lip setting (cents), the breath (%), the pitch (cents), the level
    heard (dB); cents of pitch a cent of lips (None for lips that stood still).  None where
    nothing was held so for half a second.
    """
    return [found and found["row"] for found in (_tracks(performance, row) for row in rows)]


def told_apart(performance: Performance, rows) -> list[dict]:
    """The rows, each with its `steadiness` where the player's lips or breath drift."""
    if unsteady(performance.built.scene, performance.built.rate) is None:
        return rows
    each = note_steadiness(performance, rows)
    return [{**row, "steadiness": found} for row, found in zip(rows, each, strict=True)]


def steadiness(performance: Performance, rows) -> dict | None:
    """Tracks of the first held note among `rows`: `time_s`, and around their means `lip_cents`,
    `pitch_cents` and `breath_percent`, lists of one length; `row` as in `note_steadiness`, and
    `drift_cents` and `drift_percent` that the scene asks for.  None where no note was held."""
    found = next((f for f in (_tracks(performance, row) for row in rows) if f), None)
    if found is None:
        return None
    drift = performance.built.scene.player.drift
    asked = {"drift_cents": drift.lip_drift_cents, "drift_percent": drift.breath_drift_percent}
    return found | asked


def _tracks(performance, row):
    span = row["frequency_hz"] and _still(performance, row["start_s"] + AFTER, row["end_s"])
    if not span:
        return None
    rate, gesture = performance.built.rate, performance.gesture
    part = slice(int(span[0] * rate), int(span[1] * rate))
    inside = performance.played.mouthpiece_pressure[part]
    frequency = steady_pitch(inside, rate, lowest=lowest_for(row["tension_hz"]))
    if not np.isfinite(frequency):
        return None
    times, pitch = pitch_unrest(inside, rate, frequency)
    _, level = level_unrest(performance.radiated_pressure[part], rate, frequency)
    if not len(times):
        return None
    at = part.start + np.minimum(times * rate, len(inside) - 1).astype(int)
    lips = 1200 * np.log2(performance.tension[at] / gesture.tension.at(span[0]))
    blown = gesture.mouth.at(span[0])
    breath = 100 * (performance.mouth[at] / blown - 1) if blown > 0 else np.zeros(len(at))
    size = {
        "from_s": round(span[0], 3),
        "to_s": round(span[1], 3),
        "lip_cents": round(float(lips.std()), 3),
        "breath_percent": round(float(breath.std()), 3),
        "pitch_cents": round(float(pitch.std()), 3),
        "level_db": round(float(level.std()), 3),
    }
    moved = size["lip_cents"]
    size["cents_per_cent"] = round(size["pitch_cents"] / moved, 3) if moved else None
    drawn = slice(None, None, round(GRID / HOP))
    tracks = {"lip_cents": lips, "pitch_cents": pitch, "breath_percent": breath}
    tracks = {k: np.round(v[drawn] - v.mean(), 3).tolist() for k, v in tracks.items()}
    return {"row": size, "time_s": np.round(span[0] + times[drawn], 4).tolist(), **tracks}


def _still(performance, start, end):
    """From when to when (s) between two moments the player meant to move nothing, the longest
    such time, and no more of it than is measured; None where that is too short."""
    gesture = performance.gesture
    times = np.arange(start, end, GRID)
    if len(times) < 2:
        return None
    controls = [gesture.tension.at(times), gesture.mouth.at(times)]
    if gesture.slide is not None:
        controls.append(gesture.slide.position_at(times))
    moved = np.zeros(len(times) - 1, bool)
    for control in controls:
        moved |= np.abs(np.diff(control)) > ALIKE * np.abs(control[:-1])
    edges = np.flatnonzero(np.concatenate([[True], moved, [True]]))
    longest = int(np.argmax(np.diff(edges)))
    first, last = times[edges[longest]], times[edges[longest + 1] - 1]
    last = min(last, first + LONGEST)
    return (float(first), float(last)) if last - first >= SHORTEST else None
