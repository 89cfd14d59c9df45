"""The sounds of a set beside the first: what a picture draws, and how they differ in words."""

import numpy as np
from scipy.signal import welch

from lipmodel.analysis.spectrum import centroid, harmonics
from lipmodel.sound.alignment import envelope
from lipmodel.units import MINUS

ATTACK = (-0.02, 0.2)  # s about the start
AROUND = 0.15  # s to either side of the moment at which spectra are taken
HARMONICS = 16
POINTS = 400  # of a curve
BAND, FINE = (40.0, 6000.0), 8192  # Hz, samples: of a spectrum without harmonics


def curves(reports, even, rate) -> list[dict]:
    """What the picture draws of each sound (`reports` as in report.json, `even` as made by
    `evened`, at `rate` Hz): harmonics in dB of full scale or None, the whole spectrum where no
    sound has a pitch, the pitch's cents from the first sound's, the level over its start."""
    tracks = [_track(report, sound, rate) for report, sound in zip(reports, even, strict=True)]
    moment = _moment(reports[0], even[0], tracks[0], rate)
    made = []
    for sound, track in zip(even, tracks, strict=True):
        pitch_there = np.nan if moment is None else _near(track, moment)
        made.append(
            {
                "cents": None if moment is None else _cents(track, tracks[0]),
                **_spectrum(sound.samples, rate, moment, pitch_there),
                **_whole(sound.samples, rate, moment),
                **_attack(sound.samples, rate, even[0].onset - even[0].first / rate),
            }
        )
    return made


def _track(report, sound, rate):
    """Times in s from the sound's start and pitch in Hz (nan: none); None for a source."""
    track = report.get("pitch")
    if report.get("source") or not track:
        return None
    times = np.array(track["time_s"]) - sound.first / rate
    heard = np.array([np.nan if f is None else f for f in track["frequency_hz"]], float)
    keep = (times >= 0) & (times <= len(sound.samples) / rate)
    return times[keep], heard[keep]


def _moment(report, sound, track, rate):
    """Middle of the first sound's longest note, in s of the evened sound; None without one."""
    if track is None:
        return None
    rows = [r for r in report["notes"] if r["frequency_hz"]]
    if not rows:
        return None
    note = max(rows, key=lambda r: r["end_s"] - r["start_s"])
    end = min(note["end_s"], sound.first / rate + len(sound.samples) / rate)
    return 0.5 * (note["start_s"] + end) - sound.first / rate


def _near(track, moment):
    """Median pitch in Hz about a moment, nan where there is none."""
    if track is None:
        return np.nan
    times, heard = track
    near = heard[(np.abs(times - moment) <= AROUND) & np.isfinite(heard)]
    return float(np.median(near)) if len(near) > 2 else np.nan


def _cents(track, first):
    """Times in s and cents above the first sound's pitch at that time, of POINTS or fewer."""
    if track is None or first is None:
        return None
    times = first[0]
    other = np.interp(times, *track, left=np.nan, right=np.nan)
    off = 1200 * np.log2(other / first[1])
    every = max(1, len(times) // POINTS)
    return times[::every], off[::every]


def _spectrum(samples, rate, moment, frequency) -> dict:
    """Harmonics about the moment in dB of full scale, their pitch and centroid in Hz."""
    if moment is None or np.isnan(frequency):
        nothing = ("moment_s", "frequency_hz", "centroid_hz", "harmonics_db")
        return dict.fromkeys(nothing)
    part = slice(max(0, int((moment - AROUND) * rate)), int((moment + AROUND) * rate))
    amplitudes = harmonics(samples[part], rate, frequency, HARMONICS)
    return {
        "moment_s": moment,
        "frequency_hz": frequency,
        "centroid_hz": centroid(amplitudes, frequency),
        "harmonics_db": (20 * np.log10(np.maximum(amplitudes, 1e-6))).tolist(),
    }


def _whole(samples, rate, moment) -> dict:
    """The whole spectrum in dB where there is no moment for harmonics."""
    if moment is not None:
        return {"spectrum_hz": None, "spectrum_db": None}
    frequency, power = welch(samples, rate, nperseg=min(FINE, len(samples)))
    inside = (frequency >= BAND[0]) & (frequency <= BAND[1])
    return {
        "spectrum_hz": frequency[inside],
        "spectrum_db": 10 * np.log10(np.maximum(power[inside], 1e-30)),
    }


def _attack(samples, rate, start) -> dict:
    level, times = envelope(samples, rate)
    inside = (times >= start + ATTACK[0]) & (times <= start + ATTACK[1])
    return {"attack_s": times[inside] - start, "attack": level[inside]}


def differences(row: dict, first: dict) -> list[str]:
    """How a sound differs from the first, in sentences."""
    sentences = []
    if row["sha256"] == first["sha256"]:
        return ["It is the very same sound as the first."]
    taken = row["taken_db"]
    if abs(taken) < 0.05:
        sentences.append("As played it was as loud as the first.")
    else:
        word = "louder" if taken > 0 else "softer"
        sentences.append(
            f"As played it was {abs(taken):.1f} dB {word} than the first; equal loudness took "
            "that away."
        )
    if row["cents_from_first"] is not None:
        off, when = row["cents_from_first"], f"At {row['moment_s']:.1f} s"
        word = f"cent{'s' * (round(abs(off)) != 1)} {'sharper' if off > 0 else 'flatter'}"
        same = abs(off) < 0.5
        sentences.append(
            f"{when} it has the first's pitch."
            if same
            else f"{when} it is {abs(off):.0f} {word} than the first."
        )
        sentences += _brighter(row, first)
    return sentences


def _brighter(row, first) -> list[str]:
    share = row["centroid_hz"] / first["centroid_hz"] - 1
    if abs(share) < 0.02:
        return ["There the centre of its spectrum lies where the first's does."]
    word = "higher: brighter" if share > 0 else "lower: darker"
    return [f"There the centre of its spectrum lies {abs(100 * share):.0f} % {word}."]


def sentences(document: dict) -> list[str]:
    """What was done to make the sounds comparable."""
    count, level = len(document["sounds"]), document["loudness_lufs"]
    result = [
        f"{count} sounds of {document['length_s']:.2f} s, all at {level:.1f} LUFS".replace(
            "-", MINUS
        )
        + "."
    ]
    if document["limited"]:
        asked = f"{document['asked_lufs']:g}".replace("-", MINUS)
        result.append(
            f"All were lowered alike from {asked} LUFS: else the peaks of "
            f"{', '.join(document['limited'])} would not fit."
        )
    return [*result, document["alignment"], f"Held: {document['held']}."]
