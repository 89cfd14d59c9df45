"""From a performance's numbers to the bytes of its files: level, sentences, picture, page.

Plain data in and out, so that it can run in a second process (`background.py`) while the next
scene is played.
"""

import io
import math

from lipmodel.files import audio, tables
from lipmodel.files.long_arrays import peak
from lipmodel.output.sentences import sentences
from lipmodel.sound import loudness
from lipmodel.sound.listener import place_of

DPI = 100


def take_files(take: dict) -> dict:
    """The files of a take.

    take: report (all but level, sentences and sha256), traces (dict of arrays),
    path of the scene, folder (None, or where what a long take is too big to hand over is written),
    figures (kinds besides png), csv (None, "thin" or "full"), pair (None, or
    names, portraits and caption of two takes of one pitch).
    Returns {"report", "files": {name: bytes}}, or {"refused": sentence} where a calibrated file
    would clip.
    """
    report, traces = take["report"], take["traces"]
    given, rate = report["inputs"]["sound"], report["rate_hz"]
    pressure = traces["radiated_pressure_pa"]
    source = report.get("source")
    if not (source["sounds"] if source else peak(traces["mouth_pressure_pa"])):
        pressure = loudness.silenced(pressure)  # the lips settling unblown are nothing to hear
    try:
        leveled = _leveled(given, pressure, rate)
    except ValueError as error:
        return {"refused": f'{take["path"]}: sound.level = "calibrated": {error}'}
    report["level"] = level_rows(given, leveled, pressure, rate)
    made = {}
    for kind in dict.fromkeys(("wav", *given["also"])):
        _put(take, made, f"sound.{kind}", audio.write_sound, leveled.samples, rate, kind)
    if take["csv"]:
        full = take["csv"] == "full"
        _put(take, made, "traces.csv", tables.write_traces_csv, traces, rate, full)
    report["sha256"] = _digest(take, made)
    report["sentences"] = sentences(report)
    heard = "sound.wav"  # a long sound lies beside its page
    if not take["folder"]:
        heard = audio.sound_bytes(leveled.samples, rate, "flac")
    made |= _drawn(report, traces, heard, take["figures"])
    made |= _compared(take, report) | _shown(take, report)
    return {"report": report, "files": made}


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


def _compared(take: dict, report: dict) -> dict:
    """Pictures of what the take is compared with; their words and figures go to the report."""
    made = {}
    if take.get("pair"):
        report["sentences"].append(take["pair"]["caption"])
        made["pair.png"] = _pair_drawn(report["title"], take["pair"])
    if take.get("family"):
        report["family"] = take["family"]["members"]
        report["sentences"].append(take["family"]["sentence"])
        made["bores.png"] = _bores_drawn(report, take["family"])
    if take.get("pedal"):
        report["pedal"] = {k: take["pedal"][k] for k in ("written", "frequency_hz", "support")}
        report["sentences"] += take["pedal"]["sentences"]
        made["pedal.png"] = _pedal_drawn(report["title"], take["pedal"])
    return made


def _shown(take: dict, report: dict) -> dict:
    """What [show] asks for; its words and figures go to the report."""
    made = {}
    if report["inputs"].get("show", {}).get("energy"):
        made["energy.png"] = _energy_drawn(report)
    for name, draw in SHOWN.items():
        if take.get(name):
            report[name], more = draw(report, take[name])
            report["sentences"] += take[name]["sentences"]
            made |= more
    return made


def _leveled(given: dict, pressure, rate) -> loudness.Leveled:
    if given["level"] == "matched":
        return loudness.matched(pressure, rate, given["loudness_lufs"])
    return loudness.calibrated(pressure, rate)


def level_rows(given: dict, leveled: loudness.Leveled, pressure, rate) -> dict:
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
        "repeated_to_measure": leveled.repeated,
        "distance_m": place_of(given["distance_m"], 0.0, given["place"])[0],
        "place": given["place"],
    }


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


def _pair_drawn(title: str, pair: dict) -> bytes:
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.pictures.pair import pair_figure

    figure = pair_figure(title, pair["names"], pair["portraits"], pair["caption"])
    return figure_bytes(figure, "png", DPI)


def _bores_drawn(report: dict, found: dict) -> bytes:
    from lipmodel.output.pictures.bores import bores_figure
    from lipmodel.output.pictures.image_file import figure_bytes

    notes = report["inputs"]["notes"]
    figure = bores_figure(report["title"], found, notes["a4_hz"], notes["spelling"])
    return figure_bytes(figure, "png", DPI)


def _pedal_drawn(title: str, pedal: dict) -> bytes:
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.pictures.pedal import pedal_figure

    return figure_bytes(pedal_figure(title, pedal), "png", DPI)


def _energy_drawn(report: dict) -> bytes:
    from lipmodel.output.pictures.energy import energy_figure
    from lipmodel.output.pictures.image_file import figure_bytes

    return figure_bytes(energy_figure(report), "png", DPI)


def _mirror(report: dict, found: dict):
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.pictures.mirror import mirror_figure
    from lipmodel.output.wording import heading

    notes = report["inputs"]["notes"]
    figure = mirror_figure(heading(report), found, notes["a4_hz"], notes["spelling"])
    told = {k: found[k] for k in ("curve_hz", "members", "partials")}
    return told, {"mirror.png": figure_bytes(figure, "png", DPI)}


def _field(report: dict, found: dict):
    from lipmodel.output.pictures.field import field_figure
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.wording import heading

    figure = field_figure(heading(report), found)
    kept = ("n", "frequency_hz", "pressure_antinodes_m", "pressure_nodes_m")
    told = {"played": found["played"]}
    told["partials"] = [{k: p[k] for k in kept} for p in found["partials"]]
    moving = tables.compact_json(found["animation"]).encode()
    return told, {"field.png": figure_bytes(figure, "png", DPI), "field.json": moving}


def _echo(report: dict, found: dict):
    from lipmodel.output.pictures.echo import echo_figure
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.wording import heading

    figure = echo_figure(heading(report), found)
    told = {k: found[k] for k in ("marks", "returns")}
    told["members"] = [{k: m[k] for k in ("name", "end_s")} for m in found["members"]]
    wav = audio.sound_bytes(found["sound"], report["rate_hz"])
    return told, {"echo.png": figure_bytes(figure, "png", DPI), "echo.wav": wav}


def _dynamics(report: dict, found: dict):
    from lipmodel.output.pictures.dynamics import dynamics_figure
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.wording import heading

    told = {k: found[k] for k in ("markings_kpa", "rows")}
    return told, {"dynamics.png": figure_bytes(dynamics_figure(heading(report), found), "png", DPI)}


SHOWN = {"mirror": _mirror, "field": _field, "echo": _echo, "dynamics": _dynamics}
