"""A made-up run to draw: the lips of the Wednesday brass class sweep up, the school trumpet holds.

Nothing here is computed by the model: the numbers only have the right size.
"""

import io
import math
import struct
import wave

import numpy as np

from lipmodel.units import nearest_note, note_name

RATE = 48_000  # Hz
LENGTH = 12.0  # s
TRANSPOSITION = 2  # written minus sounding, semitones
PEAKS = (84.6, 239.0, 355.2, 472.1, 586.3, 694.4, 815.0, 931.2, 1051.0, 1170.0)  # Hz
HEIGHTS = (32e6, 38e6, 45e6, 60e6, 62e6, 58e6, 40e6, 41e6, 25e6, 15e6)  # Pa s/m3
# start s, end s, partial: five plateaus of a sweep from 140 to 900 Hz
PLATEAUS = ((0.4, 2.8, 2), (2.8, 4.9, 3), (4.9, 7.2, 4), (7.2, 9.5, 5), (9.7, 11.9, 6))


def named(frequency: float) -> dict:
    semitone, off = nearest_note(frequency)
    return {
        "sounding": note_name(semitone),
        "written": note_name(semitone + TRANSPOSITION),
        "cents": off,
    }


def resonances() -> list[dict]:
    return [
        {"n": n, "frequency_hz": f, "magnitude_pa_s_m3": float(z), "quality": 28.5} | named(f)
        for n, (f, z) in enumerate(zip(PEAKS, magnitude(np.array(PEAKS)), strict=True), 1)
    ]


def notes() -> list[dict]:
    made = []
    for start, end, partial in PLATEAUS:
        resonance = PEAKS[partial - 1]
        frequency = resonance * 2 ** (-11 / 1200)
        note = {
            "start_s": start,
            "end_s": end,
            "frequency_hz": frequency,
            "partial": partial,
            "resonance_hz": resonance,
            "cents_from_resonance": -11.0,
            "valves": "0",
            "tension_hz": 0.9 * frequency,
            "pressure_kpa": 2.0 + 0.5 * partial,
            "lock": 0.93 - 0.037 * partial,
            "lipped_cents": -4.0,
            "state": "locked",
            "mouthpiece_rms_pa": 1500.0,
            "centroid_hz": 900.0,
        }
        made.append(note | named(frequency))
    return made


def report() -> dict:
    """A report.json as in the contract, as a dict."""
    time = np.arange(0.025, LENGTH - 0.025, 0.01)
    frequency = [_sounding(t) for t in time]
    scene = {
        "title": "Why notes snap",
        "listen_for": "The pitch waits, then jumps.",
        "ask": "Will the pitch follow the lips?",
        "answer": "No: it holds, then jumps.",
        "notes": {"read_as": "written", "a4_hz": 440.0, "spelling": "flats"},
        "sound": {"distance_m": 1.0, "angle_deg": 0.0, "level": "matched"},
    }
    return {
        "scene": "slots.toml",
        "variant": "as written",
        "title": "Why notes snap",
        "version": "0.1.0",
        "rate_hz": RATE,
        "length_s": LENGTH,
        "inputs": scene,
        "sha256": "0" * 64,
        "sentences": ["Played five notes: C4 G4 C5 E5 G5 (written).", "The pitch jumped 4 times."],
        "changed": [],
        "air": {"temperature_c": 22.0, "sound_speed_m_s": 344.6, "density_kg_m3": 1.19},
        "resonances": resonances(),
        "pitch": {"time_s": time.tolist(), "frequency_hz": frequency},
        "notes": notes(),
        "level": {
            "lufs": -16.0,
            "target_lufs": -16.0,
            "true_peak_dbtp": -3.2,
            "spl_db": 94.6,
            "laf_max_db": 96.4,
            "gain_db": 2.1,
        },
        "energy": {
            "blown_j": 14.32,
            "into_bore_j": 3.215,
            "wall_j": 3.004,
            "radiated_j": 0.1987,
            "lips_and_jet_j": 11.09,
            "stored_j": 0.00042,
            "residual": 0.00083,
            "blown_w": 1.19,
            "into_bore_w": 0.268,
            "wall_w": 0.25,
            "radiated_w": 0.0166,
        },
        "timing": {"compile_s": 0.0, "simulate_s": 1.1, "total_s": 2.0},
    }


def _sounding(time: float) -> float | None:
    """Playing frequency in Hz: it leans a little with the lips, and is silent between."""
    for start, end, partial in PLATEAUS:
        if start <= time < end:
            lean = 60 * ((time - start) / (end - start) - 0.5) - 11
            return PEAKS[partial - 1] * 2 ** (lean / 1200)
    return None


def traces() -> dict:
    """Arrays as in traces.npz, SI, shape (n,)."""
    time = np.arange(round(LENGTH * RATE)) / RATE
    known = np.array([_sounding(t) or 0.0 for t in time[::480]])
    frequency = np.repeat(known, 480)[: len(time)]
    phase = 2 * np.pi * np.cumsum(frequency) / RATE
    loud = np.convolve(frequency > 0, np.ones(2400) / 2400, "same")
    rise = np.minimum(time / 0.05, 1.0)
    wave_shape = np.sin(phase) + 0.5 * np.sin(2 * phase + 0.4) + 0.2 * np.sin(3 * phase)
    pressure = loud * (1.0 + time / LENGTH) * 1500 * wave_shape
    opening = 4e-6 + loud * 6e-6 * (1 + np.sin(phase - 0.5))
    return {
        "time_s": time,
        "mouth_pressure_pa": rise * (2500 + 2500 * time / LENGTH),
        "mouthpiece_pressure_pa": pressure,
        "lip_opening_m2": opening,
        "flow_m3_s": opening * 40,
        "radiated_pressure_pa": pressure / 1000,
        "tension_hz": 140 + 760 * time / LENGTH,
    }


def silence() -> tuple[dict, dict]:
    """The same scene without a sound: no pitch, no notes, still air."""
    quiet, still = report(), traces()
    quiet["pitch"]["frequency_hz"] = [None] * len(quiet["pitch"]["time_s"])
    quiet["notes"], quiet["energy"] = [], None
    quiet["sentences"] = ["No note sounded."]
    quiet["level"] = dict.fromkeys(quiet["level"])
    for name in ("mouthpiece_pressure_pa", "lip_opening_m2", "flow_m3_s", "radiated_pressure_pa"):
        still[name] = np.zeros_like(still[name])
    return quiet, still


def magnitude(frequency: np.ndarray) -> np.ndarray:
    """|Z| in Pa s/m3 of an air column with these peaks, shape of `frequency` (Hz)."""
    size = np.full_like(frequency, 1.5e6)
    for peak, height in zip(PEAKS, HEIGHTS, strict=True):
        size += height / np.abs(1 + 1j * 28 * (frequency / peak - peak / frequency))
    return size


def impedance() -> tuple[np.ndarray, np.ndarray]:
    """Frequency in Hz and |Z| in Pa s/m3, shape (n,)."""
    frequency = np.arange(20.0, 2000.0, 0.5)
    return frequency, magnitude(frequency)


def sound() -> bytes:
    """A short WAV file: half a second of a sine of 440 Hz."""
    values = [round(8000 * math.sin(2 * math.pi * 440 * n / RATE)) for n in range(RATE // 2)]
    made = io.BytesIO()
    with wave.open(made, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(struct.pack(f"<{len(values)}h", *values))
    return made.getvalue()
