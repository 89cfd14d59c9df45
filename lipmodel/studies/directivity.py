"""Where the open end of a scene sends its sound: at six pitches, all round."""

import numpy as np

from lipmodel.bore.wavefronts import end_angle
from lipmodel.player.build import Built
from lipmodel.player.cached import kept_resonances
from lipmodel.player.note_names import note_names
from lipmodel.sound.directivity import directivity as spread

MULTIPLES = (2, 4, 8, 16, 32, 48)  # of the fourth resonance over four
HIGHEST = 12_000.0  # Hz
EVERY = 5  # degrees
BEHIND = 150  # degrees: the row behind the player; common practice, no published source
SEATS = 3  # steps of EVERY to either side
ROUND = 3.0  # dB: what differs by less is told to be alike
PLACES = {"conductor": 0, "side": 90, "row behind": BEHIND}


def directivity(built: Built) -> dict | None:
    """angle_deg (k,), end_angle_deg, and rows: frequency_hz, names, ka, level_db (k,) over what a
    source of the same power sends to all sides, half_angle_deg (where it falls 6 dB below the
    axis, None where nowhere); sentences.  None where nothing leaves the tube."""
    bore, air = built.bore, built.air
    if bore.end in ("closed", "node"):
        return None
    peaks = {r.n: r.frequency for r in kept_resonances(bore, air)}
    number = next((n for n in (4, 3, 2, 1) if n in peaks), None)
    if number is None:
        return None
    base, angle = peaks[number] / number, end_angle(bore)
    angles = np.arange(0, 181, EVERY)
    rows = [_row(built, n * base, angle, angles) for n in MULTIPLES if n * base < HIGHEST]
    return {
        "angle_deg": angles.tolist(),
        "end_angle_deg": round(float(np.degrees(angle)), 1),
        "rows": rows,
        "sentences": _sentences(rows),
    }


def _row(built: Built, frequency, angle, angles) -> dict:
    bore, speed = built.bore, built.air.at_open_end.sound_speed
    ka = 2 * np.pi * frequency * bore.radius[-1] / speed
    level = np.array([10 * np.log10(spread(ka, np.radians(a), angle, bore.end)[0]) for a in angles])
    fallen = np.flatnonzero(level < level[0] - 6)
    return {
        "frequency_hz": round(float(frequency), 2),
        **note_names(built, frequency),
        "ka": round(float(ka), 3),
        "level_db": np.round(level, 2).tolist(),
        "half_angle_deg": int(angles[fallen[0]]) if len(fallen) else None,
    }


def _less(row: dict, place: str) -> float:
    """dB less than on the axis; of the mean over some seats, since a null is narrow."""
    at = PLACES[place] // EVERY
    seats = np.array(row["level_db"][max(at - SEATS, 0) : at + SEATS + 1])
    return float(row["level_db"][0] - 10 * np.log10(np.mean(10 ** (seats / 10))))


def _sentences(rows) -> list[str]:
    low, high = rows[0], rows[-1]
    told = []
    if max(_less(low, place) for place in PLACES) < ROUND:
        told.append(f"At {low['frequency_hz']:.0f} Hz it sounds nearly alike to all sides.")
    side, behind = _less(high, "side"), _less(high, "row behind")
    told.append(
        f"At {high['frequency_hz']:.0f} Hz the side hears {side:.0f} dB less than the place before "
        f"the bell, the row behind {behind:.0f} dB less."
    )
    if high["half_angle_deg"] is not None:
        told.append(
            f"There the sound has lost 6 dB {high['half_angle_deg']} degrees off the bell's axis: "
            "brightness is a matter of where one sits."
        )
    return told
