"""lipmodel resonances"""

import io
import warnings
from pathlib import Path

import numpy as np

from lipmodel.acoustics.impedance import TABLE, impedance
from lipmodel.errors import SceneError
from lipmodel.files import folders, tables
from lipmodel.files.paths import LARGEST_FILE, read_bytes
from lipmodel.output.results.instruments import Series, held_words, series, series_figure
from lipmodel.player.instrument import Instrument
from lipmodel.studies.causes import combination_sharpness
from lipmodel.units import sharp_or_flat


def run(args) -> int:
    if args.against and not args.out:
        raise SceneError("--against: expected --out DIR too, where the picture goes")
    found = series(args.what, args.valves, args.celsius)
    measured = _measured(args.against) if args.against else None
    if args.out:
        _write(Path(args.out), found, measured)
    document = found.to_dict()
    if args.json:
        print(tables.json_text(document), end="")
        return 0
    scene = found.instrument.scene
    if scene is not None and len(scene.variants) > 1:
        names = [variant.name for variant in scene.variants[1:]]
        count = f"{len(names)} variant{'s' if len(names) > 1 else ''}"
        print(f"{scene.path}: as written; the scene has {count}: {', '.join(names)}")
    for one in document["series"]:
        _print(found.instrument, one, len(document["series"]) > 1)
    if args.out:
        print(f"Wrote {Path(args.out) / 'picture.png'} and {Path(args.out) / 'impedance.csv'}")
    return 0


def _print(instrument: Instrument, one: dict, several: bool):
    more = f", {held_words(one)}" if several or one["valves"] != "0" else ""
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


def _series_words(row: dict) -> str:
    return "" if row["cents_from_harmonic"] is None else f"{row['cents_from_harmonic']:+.1f}"


def _sharp_words(one: dict) -> str:
    exact = combination_sharpness(one["valves"]) if one["valves"] != "0" else 0.0
    more = f"; with valves each right alone {exact:.1f} cents sharp" if exact > 0.05 else ""
    words = sharp_or_flat(one["sharp_cents"])
    return f"  the series as a whole: {words} of equal semitones from the first{more}"


def _write(place: Path, found: Series, measured):
    from lipmodel.output.pictures.image_file import figure_bytes

    columns, document = {"frequency_hz": TABLE}, found.to_dict()
    for one, bore in zip(document["series"], found.bores.values(), strict=True):
        z = impedance(bore, found.instrument.air, TABLE)
        held = one["valves"] if one["slide_position"] == 1 else f"p{one['slide_position']:g}"
        tag = "" if len(found.bores) == 1 else f"_{held}"
        columns[f"real_pa_s_m3{tag}"], columns[f"imaginary_pa_s_m3{tag}"] = z.real, z.imag
    with folders.folder_written(place) as work:
        (work / "picture.png").write_bytes(figure_bytes(series_figure(found, measured)))
        (work / "impedance.csv").write_text(tables.columns_csv(columns), encoding="utf-8")
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
