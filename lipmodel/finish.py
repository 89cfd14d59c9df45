"""From a performance's numbers to the bytes of its files: level, sentences, picture, page.

Plain data in and out, so that it can run in a second process (`studio.py`) while the next scene
is played.
"""

import math

import numpy as np

from lipmodel import files, sound
from lipmodel.sentences import sentences

DPI = 100


def finish(take: dict) -> dict:
    """The files of a take.

    take: report (all but level, sentences and sha256), traces (dict of arrays),
    path of the scene, figures (kinds besides png), csv (None, "thin" or "full"), pair (None, or
    names, portraits and caption of two takes of one pitch).
    Returns {"report", "files": {name: bytes}}, or {"refused": sentence} where a calibrated file
    would clip.
    """
    report, traces = take["report"], take["traces"]
    given, rate = report["inputs"]["sound"], report["rate_hz"]
    pressure = traces["radiated_pressure_pa"]
    if not np.any(traces["mouth_pressure_pa"]):
        pressure = np.zeros_like(pressure)  # the lips settling unblown are nothing to hear
    try:
        leveled = _leveled(given, pressure, rate)
    except ValueError as error:
        return {"refused": f'{take["path"]}: sound.level = "calibrated": {error}'}
    report["level"] = level_rows(given, leveled, pressure, rate)
    wav = files.sound_bytes(leveled.samples, rate)
    report["sha256"] = files.digest(wav)
    report["sentences"] = sentences(report)
    made = {"sound.wav": wav, **_drawn(report, traces, leveled.samples, take["figures"])}
    if take.get("pair"):
        report["sentences"].append(take["pair"]["caption"])
        made["pair.png"] = _pair_drawn(report["title"], take["pair"])
    for kind in dict.fromkeys(given["also"]):
        made[f"sound.{kind}"] = files.sound_bytes(leveled.samples, rate, kind)
    if take["csv"]:
        made["traces.csv"] = files.traces_csv(traces, rate, take["csv"] == "full").encode()
    return {"report": report, "files": made}


def _leveled(given: dict, pressure, rate) -> sound.Leveled:
    if given["level"] == "matched":
        return sound.matched(pressure, rate, given["loudness_lufs"])
    return sound.calibrated(pressure, rate)


def level_rows(given: dict, leveled: sound.Leveled, pressure, rate) -> dict:
    """The level table of a report; None where there is no sound."""
    spl, fast = sound.sound_levels(pressure, rate)
    matched = given["level"] == "matched"
    return {
        "level": given["level"],
        "lufs": _finite(leveled.lufs),
        "target_lufs": given["loudness_lufs"] if matched else None,
        "true_peak_dbtp": _finite(leveled.true_peak_dbtp),
        "spl_db": _finite(spl),
        "laf_max_db": _finite(fast),
        "gain_db": leveled.gain_db,
        "limited_by_true_peak": leveled.limited,
        "repeated_to_measure": leveled.repeated,
        "distance_m": given["distance_m"],
    }


def _finite(value):
    return float(value) if math.isfinite(value) else None


def _drawn(report: dict, traces: dict, samples, figures) -> dict:
    from lipmodel.pages.listen import listen_page
    from lipmodel.pictures.played import played_figure
    from lipmodel.pictures.save import figure_bytes

    figure = played_figure(report, traces)
    picture = figure_bytes(figure, "png", DPI)
    flac = files.sound_bytes(samples, report["rate_hz"], "flac")
    page = listen_page(report, flac, "audio/flac", picture)
    extra = {f"picture.{kind}": figure_bytes(figure, kind, DPI) for kind in figures}
    return {"picture.png": picture, "listen.html": page.encode(), **extra}


def _pair_drawn(title: str, pair: dict) -> bytes:
    from lipmodel.pictures.pair import pair_figure
    from lipmodel.pictures.save import figure_bytes

    figure = pair_figure(title, pair["names"], pair["portraits"], pair["caption"])
    return figure_bytes(figure, "png", DPI)
