"""lipmodel resonances"""

import io
import warnings
from pathlib import Path

import numpy as np

from lipmodel.acoustics.impedance import TABLE, impedance
from lipmodel.errors import SceneError
from lipmodel.files import folders, tables
from lipmodel.files.paths import LARGEST_FILE, read_bytes
from lipmodel.player.instrument import Instrument, load_instrument
from lipmodel.studies.causes import combination_sharpness
from lipmodel.studies.series import (
    one_series,
    series_asked,
    series_bore,
    series_document,
    sharpness,
)
from lipmodel.units import sharp_or_flat


def run(args) -> int:
    if args.against and not args.out:
        raise SceneError("--against: expected --out DIR too, where the picture goes")
    instrument = load_instrument(args.what, args.celsius)
    bores = {held: series_bore(instrument, *held) for held in series_asked(instrument, args.valves)}
    series = [one_series(instrument, *held, bore) for held, bore in bores.items()]
    sharpness(instrument, series)
    measured = _measured(args.against) if args.against else None
    if args.out:
        _write(Path(args.out), instrument, bores, series, measured)
    if args.json:
        print(tables.json_text(series_document(instrument, series, bores)), end="")
        return 0
    for one in series:
        _print(instrument, one, len(series) > 1)
    if args.out:
        print(f"Wrote {Path(args.out) / 'picture.png'} and {Path(args.out) / 'impedance.csv'}")
    return 0


def _print(instrument: Instrument, one: dict, several: bool):
    more = f", {_held_words(one)}" if several or one["valves"] != "0" else ""
    print(f"{instrument.name}{more}, {instrument.celsius:g} degrees C")
    if one.get("sharp_cents"):
        print(_sharp_words(one))
    print("   n        Hz   MPa s/m3      Q  written sounding  cents            from its series")
    for r in one["resonances"]:
        q = f"{r['quality']:6.1f}" if r["quality"] else "     -"
        print(
            f"  {r['n']:2d}  {r['frequency_hz']:8.2f}   {r['magnitude_pa_s_m3'] / 1e6:8.2f} {q}  "
            f"{r['written']:7} {r['sounding']:8} {r['cents']:+6.1f} "
            f"{sharp_or_flat(r['cents']):16} {_series_words(r)}"
        )


def _held_words(one: dict) -> str:
    if one["slide_position"] != 1:
        return f"slide position {one['slide_position']:g}"
    return "open" if one["valves"] == "0" else f"valves {one['valves']}"


def _series_words(row: dict) -> str:
    return "" if row["cents_from_harmonic"] is None else f"{row['cents_from_harmonic']:+.1f}"


def _sharp_words(one: dict) -> str:
    exact = combination_sharpness(one["valves"]) if one["valves"] != "0" else 0.0
    more = f"; with valves each right alone {exact:.1f} cents sharp" if exact > 0.05 else ""
    words = sharp_or_flat(one["sharp_cents"])
    return f"  the series as a whole: {words} of equal semitones from the first{more}"


def _write(folder: Path, instrument: Instrument, bores, series, measured):
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.pictures.impedance import impedance_figure

    curves, columns = [], {"frequency_hz": TABLE}
    for one, bore in zip(series, bores.values(), strict=True):
        z = impedance(bore, instrument.air, TABLE)
        curves.append((_held_words(one), TABLE, np.abs(z)))
        held = one["valves"] if one["slide_position"] == 1 else f"p{one['slide_position']:g}"
        tag = "" if len(bores) == 1 else f"_{held}"
        columns[f"real_pa_s_m3{tag}"], columns[f"imaginary_pa_s_m3{tag}"] = z.real, z.imag
    rows = series[0]["resonances"] if len(series) == 1 else []
    figure = impedance_figure(instrument.name, curves, rows, measured=measured)
    with folders.folder_written(folder) as work:
        (work / "picture.png").write_bytes(figure_bytes(figure))
        (work / "impedance.csv").write_text(tables.columns_csv(columns), encoding="utf-8")
        document = series_document(instrument, series, bores)
        (work / "resonances.json").write_text(tables.json_text(document), encoding="utf-8")


def _measured(path):
    """(frequency Hz, |Z| Pa s/m3) of a CSV: two columns, or three with real and imaginary part."""
    data = read_bytes(path, LARGEST_FILE, "a table of frequencies and magnitudes")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # an empty file is told below
            lines = io.StringIO(data.decode("utf-8-sig"))
            table = np.genfromtxt(lines, delimiter=",", comments="#", ndmin=2)
    except ValueError as error:
        reason = " ".join(str(error).split())
        raise SceneError(f"{path}: cannot be read as CSV ({reason})") from error
    table = table[np.all(np.isfinite(table), axis=1)]
    if table.shape[0] < 2 or table.shape[1] not in (2, 3):
        raise SceneError(
            f"{path}: expected columns frequency_hz, magnitude_pa_s_m3 "
            "or frequency_hz, real, imaginary, at least two rows"
        )
    size = table[:, 1] if table.shape[1] == 2 else np.hypot(table[:, 1], table[:, 2])
    if not (np.all(table[:, 0] > 0) and np.all(size > 0)):
        raise SceneError(f"{path}: expected frequencies and magnitudes above 0")
    return table[:, 0], size
