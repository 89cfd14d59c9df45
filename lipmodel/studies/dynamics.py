"""One note from soft to loud: level, spectral centroid and harmonics against mouth pressure."""

import numpy as np

from lipmodel.analysis.pitch import lowest_for, steady_pitch
from lipmodel.analysis.spectrum import centroid, harmonics
from lipmodel.lips import DYNAMICS
from lipmodel.player.performance import Performance
from lipmodel.sound import listener
from lipmodel.sound.loudness import REFERENCE_PRESSURE

WINDOW, STEP = 0.12, 0.04  # s
STEADY = 0.03  # of the breath: windows in which the breath falls faster than this are left out
SHOWN = 12  # harmonics
FAINTEST = 0.02  # rms in the mouthpiece over mouth pressure: below this there is no note
DIGITS = 2


def dynamics(performance: Performance) -> dict | None:
    """Of every window of a take in which a note holds while the breath stands or grows: mouth
    pressure (kPa), frequency (Hz), level at the listener (dB), centroid (Hz) and harmonics (dB),
    as heard and, under `linear`, as it would be without steepening; and where the markings of
    that note lie.  None where fewer than two windows sound.
    """
    heard = {"heard": performance.radiated_pressure, "linear": _linear(performance)}
    rows = [row for start in _windows(performance) if (row := _row(performance, heard, start))]
    if len(rows) < 2:
        return None
    frequency = float(np.median([r["frequency_hz"] for r in rows]))
    lips = performance.built.horn.lips
    first, last = rows[0], max(rows, key=lambda r: r["mouth_pressure_kpa"])
    return {
        "rows": rows,
        "markings_kpa": {k: round(lips.breath(k, frequency) / 1e3, 3) for k in DYNAMICS},
        "sentences": [_told(first, last, performance.built.scene.sound.steepening)],
    }


def _linear(performance):
    played, built = performance.played, performance.built
    response = built.radiation_filter
    admittance = built.horn.ladder.admittance[-1]
    room = performance.room
    return listener.radiated(played.out_wave, played.back_wave, admittance, response, room=room)


def _windows(performance):
    rate = performance.built.rate
    size, step = int(WINDOW * rate), int(STEP * rate)
    breath = performance.mouth
    for start in range(0, len(breath) - size + 1, step):
        before, after = breath[start], breath[start + size - 1]
        if before > 0 and after > (1 - STEADY) * before:
            yield slice(start, start + size)


def _row(performance, heard, part):
    rate = performance.built.rate
    pressure = performance.played.mouthpiece_pressure[part]
    setting = float(np.mean(performance.tension[part]))
    pitch = steady_pitch(pressure, rate, lowest=lowest_for(setting))
    blown = float(np.mean(performance.mouth[part]))
    if not (np.isfinite(pitch) and np.std(pressure) > FAINTEST * blown):
        return None
    row = {
        "time_s": round((part.start + part.stop) / 2 / rate, 3),
        "mouth_pressure_kpa": round(blown / 1e3, 4),
        "frequency_hz": round(float(pitch), DIGITS),
    }
    for name, wave in heard.items():
        size = harmonics(wave[part], rate, pitch)
        levels = 20 * np.log10(np.maximum(size[:SHOWN], 1e-12) / np.sqrt(2) / REFERENCE_PRESSURE)
        row[name] = {
            "level_db": round(float(20 * np.log10(wave[part].std() / REFERENCE_PRESSURE)), DIGITS),
            "centroid_hz": round(float(centroid(size, pitch)), 1),
            "harmonics_db": [round(float(v), 1) for v in levels],
        }
    return row


def _told(first, last, steepens) -> str:
    a, b = first["heard"], last["heard"]
    start = (
        f"From {first['mouth_pressure_kpa']:.1f} to {last['mouth_pressure_kpa']:.1f} kPa of breath "
        f"the note grows by {b['level_db'] - a['level_db']:.0f} dB, and the middle of its "
        f"spectrum rises from {a['centroid_hz']:.0f} to {b['centroid_hz']:.0f} Hz"
    )
    if not steepens:
        return f"{start}."
    return f"{start} ({last['linear']['centroid_hz']:.0f} Hz if loud waves did not grow steep)."
