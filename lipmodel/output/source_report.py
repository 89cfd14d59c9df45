"""report.json of a take that a source sounds: the same keys as a played one, and `source`."""

import math

import numpy as np

from lipmodel.analysis.peaks import answer, peak_near, spectrum
from lipmodel.analysis.pitch import pitch, steady_pitch
from lipmodel.analysis.spectrum import centroid, harmonics
from lipmodel.output.report_rows import air_row, pitch_rows
from lipmodel.output.report_types import Energy, Heard, Note, Source
from lipmodel.player.note_names import nearest_partial, note_names, rows_of
from lipmodel.player.source import NOISE_BAND, SourceRun
from lipmodel.units import cents

HIGHEST = 2000.0  # Hz of a spectrum in the report
STEP = 2.0  # Hz between its points
SETTLED = 0.5  # s at the end, in which a flame's pitch is measured
RINGS = 0.4  # s from a pop on, told as its note
FADED = 60.0  # dB under its beginning, where a pop has died away


def rows(run: SourceRun) -> dict:
    """resonances, pitch, notes, energy, slide, jumps, air and source of a report."""
    own = rows_of(run.built, run.resonances)
    rate = run.built.rate
    times, track = pitch(_listened(run), rate)
    return {
        "air": air_row(run.built),
        "resonances": own,
        "slide": None,
        "pitch": pitch_rows(times, track),
        "notes": _notes(run, own),
        "energy": energy_rows(run),
        "steepening": None,  # its waves are heard as the linear tube has them
        "jumps": [],
        "source": source_row(run, own),
    }


def _listened(run: SourceRun):
    """Pressure that is measured: at the lip end, or at the flame, since an open end has little."""
    driven = run.driven
    return driven.source_pressure if run.kind == "flame" else driven.lip_pressure


def source_row(run: SourceRun, own) -> Source:
    """What was put in and where, whether it sounds, and what the tube answered."""
    source, place = run.built.scene.source, run.tube.place
    row = source.model_dump(mode="json", exclude_none=True)
    row |= {"placed_mm": round(1e3 * place, 2), "sounds": run.sounds}
    frequency, size = _spectrum(run)
    grid = np.arange(STEP, HIGHEST, STEP)
    # the highest value of each step: a thinned line must not lose a peak
    edges = np.searchsorted(frequency, [*(grid - STEP / 2), grid[-1] + STEP / 2])
    thin = np.maximum.reduceat(size, edges[:-1])
    row["spectrum"] = {
        "frequency_hz": grid.tolist(),
        "level_db": levels(thin).round(2).tolist(),
    }
    row["heard"] = [] if run.kind == "flame" else _heard(run, own, frequency, size)
    row["draught"] = run.draught if run.kind == "flame" else None
    row["rayleigh"] = [
        {
            "n": g.n,
            "frequency_hz": g.frequency,
            "fed_per_s": g.fed,
            "lost_per_s": g.lost,
            "grows": g.fed > g.lost,
        }
        for g in run.growths
    ]
    return row


def levels(size):
    """dB below the highest of `size`, of its shape; -120 at the least, and where all is 0."""
    highest = size.max(initial=0.0)
    return 20 * np.log10(np.maximum(size / highest if highest > 0 else 0 * size, 1e-6))


def _spectrum(run: SourceRun):
    """Frequencies and the tube's answer, pressure over flow; a flame's own spectrum."""
    rate, driven = run.built.rate, run.driven
    if run.kind == "flame":
        part = driven.source_pressure[-int(SETTLED * rate) :]
        return spectrum(part * np.hanning(len(part)), rate)
    return answer(driven.flow, driven.lip_pressure, rate)


def _band(run: SourceRun):
    source = run.built.scene.source
    if source.kind == "tone":
        return min(source.sweep_hz), max(source.sweep_hz)
    return (NOISE_BAND[0], HIGHEST) if source.kind == "breath" else (0.0, HIGHEST)


def _heard(run, own, frequency, size) -> list[Heard]:
    """Peaks of the sound, each beside the tube's own resonance."""
    low, high = _band(run)
    peaks = []
    for r in own:
        near = r["frequency_hz"]
        peak = peak_near(frequency, size, near) if low < near < high else None
        if peak is not None:
            peaks.append({"n": r["n"], "resonance_hz": near, "frequency_hz": peak,
                         "cents_from_resonance": cents(peak, near)})  # fmt: skip
    return peaks


def _notes(run: SourceRun, own) -> list[Note]:
    rate, length = run.built.rate, len(run.driven.flow) / run.built.rate
    if run.kind == "flame" and run.sounds:
        begin = max(0.0, length - SETTLED)
        frequency = steady_pitch(run.driven.source_pressure[int(begin * rate) :], rate)
        state = "sounding"
    elif run.kind == "pop":
        begin = run.built.scene.source.start_s
        frequency = _ringing(run)
        state, length = "ringing", min(length, begin + _dies(run, begin))
    else:
        return []
    if frequency is None or math.isnan(frequency):
        return []
    return [_row(run, own, (begin, length), frequency, state)]


def _ringing(run: SourceRun):
    """The strongest of the frequencies that a pop leaves ringing at the lip end."""
    frequency, size = spectrum(run.driven.lip_pressure, run.built.rate)
    if not np.any(size):
        return None  # over before anything reached the lip end
    low = 0.5 * min((r.frequency for r in run.resonances), default=HIGHEST)
    inside = (frequency > low) & (frequency < HIGHEST)
    strongest = float(frequency[inside][np.argmax(size[inside])])
    return peak_near(frequency, size, strongest)


def _dies(run: SourceRun, begin) -> float:
    """Seconds until the ringing is `FADED` dB under its loudest moment."""
    rate = run.built.rate
    ringing = np.abs(run.driven.lip_pressure[int(begin * rate) :])
    loud = np.flatnonzero(ringing > ringing.max(initial=0.0) * 10 ** (-FADED / 20))
    return max(RINGS, loud[-1] / rate if len(loud) else 0.0)


def _row(run: SourceRun, own, span, frequency, state) -> Note:
    rate = run.built.rate
    heard = slice(int(span[0] * rate), int(span[1] * rate))
    part = _listened(run)[heard]
    middle = centroid(harmonics(part, rate, frequency), frequency)
    nearest = nearest_partial(own, frequency)
    instrument = run.built.scene.instrument
    return {
        "start_s": round(span[0], 4),
        "end_s": round(span[1], 4),
        "valves": instrument.valves,
        "slide_position": float(instrument.slide_position),
        "tension_hz": None,
        "pressure_kpa": None,
        "mouthpiece_rms_pa": float(np.std(run.driven.lip_pressure[heard])),
        "frequency_hz": frequency,
        **note_names(run.built, frequency),
        "partial": nearest["n"] if nearest else None,
        "resonance_hz": nearest["frequency_hz"] if nearest else None,
        "cents_from_resonance": cents(frequency, nearest["frequency_hz"]) if nearest else None,
        "lock": None,
        "lipped_cents": None,
        "state": state,
        "centroid_hz": None if math.isnan(middle) else middle,
    }


def energy_rows(run: SourceRun) -> Energy:
    """The energy books in J and W, under the keys of a played take: "blown" is what the source
    gave, and all of it went into the bore; "radiated" is what both ends sent out."""
    books, length = run.driven.books, len(run.driven.flow) / run.built.rate
    given, wall = books["given"], books["wall"]
    radiated = books["radiated"] + books["lip_radiated"]
    missing = given - wall - radiated - run.driven.stored
    values = {"blown": given, "into_bore": given, "wall": wall, "radiated": radiated}
    energy = {f"{k}_j": v for k, v in values.items()}
    energy |= {"lips_and_jet_j": 0.0, "stored_j": run.driven.stored}
    energy["radiated_at_lip_end_j"] = books["lip_radiated"]
    energy["residual"] = missing / given if given > 0 else 0.0
    return energy | {f"{k}_w": v / length for k, v in values.items()}
