"""From a performance's numbers to the bytes of its files: level, sentences, picture, page.

Plain data in and out, so that it can run in a second process (`background.py`) while the next
scene is played.
"""

import io
import math

import numpy as np

from lipmodel.files import audio, tables
from lipmodel.files.long_arrays import HELD, Columns, peak
from lipmodel.output.report_types import Level, Report, complete
from lipmodel.output.sentences import sentences
from lipmodel.sound import loudness
from lipmodel.sound.listener import place_of

DPI = 100


def take_files(take: dict) -> dict:
    """The files of a take.

    take: report (a `TakeReport`), traces (dict of arrays), path of the scene, folder (None, or
    where what a long take is too big to hand over is written), figures (kinds besides png), csv
    (None, "thin" or "full"), and by the names of ADDED what the take is compared with or shows.
    Returns {"report", "files": {name: bytes}}, or {"refused": sentence} where a calibrated file
    would clip.
    """
    traces, rate, given = take["traces"], take["report"]["rate_hz"], take["report"]["inputs"]
    pressure = _heard(traces)
    source = take["report"].get("source")
    if not (source["sounds"] if source else peak(traces["mouth_pressure_pa"])):
        pressure = loudness.silenced(pressure)  # the lips settling unblown are nothing to hear
    try:
        leveled = _leveled(given["sound"], pressure, rate)
    except ValueError as error:
        return {"refused": f'{take["path"]}: sound.level = "calibrated": {error}'}
    made = _sounds(take, leveled.samples)
    added = {"sha256": _digest(take, made), "sentences": []}
    added["level"] = level_rows(given["sound"], leveled, pressure, rate)
    report = complete(take["report"], added)
    report = {**report, "sentences": sentences(report)}
    heard = "sound.wav"  # a long sound lies beside its page
    if not take["folder"]:
        heard = audio.sound_bytes(leveled.samples, rate, "flac")
    made |= _drawn(report, traces, heard, take["figures"])
    if given.get("show", {}).get("energy"):
        made["energy.png"] = _energy_drawn(report)
    if take.get("waves"):
        made["waves.json"] = tables.compact_json(take["waves"]).encode()
    report, pictures = _with_added(take, report)
    return {"report": report, "files": made | pictures}


def _heard(traces):
    """The pressure at one ear, or at two side by side."""
    names = "radiated_pressure_pa", "radiated_pressure_right_pa"
    ears = [traces[name] for name in names if name in traces]
    if len(ears) == 1:
        return ears[0]
    return np.column_stack(ears) if len(ears[0]) <= HELD else Columns(ears)


def _sounds(take, samples) -> dict:
    """The sound in every kind asked for, and the traces as a table."""
    made, rate = {}, take["report"]["rate_hz"]
    for kind in dict.fromkeys(("wav", *take["report"]["inputs"]["sound"]["also"])):
        _put(take, made, f"sound.{kind}", audio.write_sound, samples, rate, kind)
    if take["csv"]:
        full = take["csv"] == "full"
        _put(take, made, "traces.csv", tables.write_traces_csv, take["traces"], rate, full)
    return made


def _with_added(take: dict, report: Report) -> tuple[Report, dict]:
    """The report with the tables and the words of what the take is compared with or shows, and
    the files of that."""
    rows, words, made = {}, [], {}
    for name, draw in ADDED.items():
        if take.get(name):
            rows[name], more, files = draw(report, take[name])
            words += more
            made |= files
    return {**report, **rows, "sentences": [*report["sentences"], *words]}, made


def _put(take, made, name, write, *what):
    """Have `write(file, *what)` fill a file: in the take's folder, or in `made`."""
    if take["folder"]:
        with open(take["folder"] / name, "wb") as file:
            write(file, *what)
        return
    out = io.BytesIO()
    write(out, *what)
    made[name] = out.getvalue()


def _digest(take, made) -> str:
    if take["folder"]:
        return tables.digest_of(take["folder"] / "sound.wav")
    return tables.digest(made["sound.wav"])


def _leveled(given: dict, pressure, rate) -> loudness.Leveled:
    if given["level"] == "matched":
        return loudness.matched(pressure, rate, given["loudness_lufs"])
    return loudness.calibrated(pressure, rate)


def level_rows(given: dict, leveled: loudness.Leveled, pressure, rate) -> Level:
    """The level table of a report; None where there is no sound."""
    spl, fast = loudness.sound_levels(pressure, rate)
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
        "reason": _off_target(leveled, matched),
        "repeated_to_measure": leveled.repeated,
        "distance_m": place_of(given["distance_m"], 0.0, given["place"])[0],
        "place": given["place"],
    }


def _off_target(leveled: loudness.Leveled, matched: bool) -> str | None:
    """Why the file is not as loud as asked for; None where it is."""
    if not matched:
        return "calibrated"
    if not math.isfinite(leveled.lufs):
        return "silent"
    return "true peak" if leveled.limited else None


def _finite(value):
    return float(value) if math.isfinite(value) else None


def _drawn(report: dict, traces: dict, heard, figures) -> dict:
    from lipmodel.output.pages.listen import listen_page
    from lipmodel.output.pictures.image_file import figure_bytes

    if report.get("source"):
        from lipmodel.output.pictures.source import source_figure as picture_of
    else:
        from lipmodel.output.pictures.take import played_figure as picture_of
    figure = picture_of(report, traces)
    picture = figure_bytes(figure, "png", DPI)
    page = listen_page(report, heard, "audio/flac", picture)
    extra = {f"picture.{kind}": figure_bytes(figure, kind, DPI) for kind in figures}
    return {"picture.png": picture, "listen.html": page.encode(), **extra}


def _png(figure) -> bytes:
    from lipmodel.output.pictures.image_file import figure_bytes

    return figure_bytes(figure, "png", DPI)


def _energy_drawn(report: Report) -> bytes:
    from lipmodel.output.pictures.energy import energy_figure

    return _png(energy_figure(report))


def _pair(report: Report, pair: dict):
    from lipmodel.output.pictures.pair import pair_figure

    figure = pair_figure(report["title"], pair["names"], pair["portraits"], pair["caption"])
    return pair["numbers"], [pair["caption"]], {"pair.png": _png(figure)}


def _bores(report: Report, family: dict):
    from lipmodel.output.pictures.bores import bores_figure

    notes = report["inputs"]["notes"]
    figure = bores_figure(report["title"], family, notes["a4_hz"], notes["spelling"])
    return family["members"], [family["sentence"]], {"bores.png": _png(figure)}


def _pedal(report: Report, pedal: dict):
    from lipmodel.output.pictures.pedal import pedal_figure

    row = {k: pedal[k] for k in ("written", "frequency_hz", "support")}
    return row, pedal["sentences"], {"pedal.png": _png(pedal_figure(report["title"], pedal))}


def _mirror(report: Report, mirror: dict):
    from lipmodel.output.pictures.mirror import mirror_figure
    from lipmodel.output.wording import heading

    notes = report["inputs"]["notes"]
    figure = mirror_figure(heading(report), mirror, notes["a4_hz"], notes["spelling"])
    row = {k: mirror[k] for k in ("curve_hz", "members", "partials")}
    return row, mirror["sentences"], {"mirror.png": _png(figure)}


def _field(report: Report, field: dict):
    from lipmodel.output.pictures.field import field_figure
    from lipmodel.output.wording import heading

    kept = ("n", "frequency_hz", "pressure_antinodes_m", "pressure_nodes_m")
    partials = [{k: p[k] for k in kept} for p in field["partials"]]
    moving = tables.compact_json(field["animation"]).encode()
    files = {"field.png": _png(field_figure(heading(report), field)), "field.json": moving}
    return {"played": field["played"], "partials": partials}, field["sentences"], files


def _echo(report: Report, echo: dict):
    from lipmodel.output.pictures.echo import echo_figure
    from lipmodel.output.wording import heading

    row = {k: echo[k] for k in ("marks", "returns")}
    row["members"] = [{k: m[k] for k in ("name", "end_s")} for m in echo["members"]]
    wav = audio.sound_bytes(echo["sound"], report["rate_hz"])
    files = {"echo.png": _png(echo_figure(heading(report), echo)), "echo.wav": wav}
    return row, echo["sentences"], files


def _dynamics(report: Report, dynamics: dict):
    from lipmodel.output.pictures.dynamics import dynamics_figure
    from lipmodel.output.wording import heading

    row = {k: dynamics[k] for k in ("markings_kpa", "rows")}
    figure = dynamics_figure(heading(report), dynamics)
    return row, dynamics["sentences"], {"dynamics.png": _png(figure)}


def _steady(report: Report, steady: dict):
    from lipmodel.output.pictures.steadiness import steadiness_figure
    from lipmodel.output.wording import heading

    files = {"steadiness.png": _png(steadiness_figure(heading(report), steady))}
    return steady["row"], [], files


def _directivity(report: Report, directivity: dict):
    from lipmodel.output.pictures.directivity import directivity_figure
    from lipmodel.output.wording import heading

    row = {k: directivity[k] for k in ("angle_deg", "end_angle_deg", "rows")}
    figure = directivity_figure(heading(report), directivity)
    return row, directivity["sentences"], {"directivity.png": _png(figure)}


ADDED = {
    "pair": _pair, "family": _bores, "pedal": _pedal,
    "mirror": _mirror, "field": _field, "echo": _echo, "dynamics": _dynamics,
    "directivity": _directivity, "steady": _steady,
}  # fmt: skip
