"""lipmodel resonances"""

import io
import warnings
from pathlib import Path

import numpy as np

from lipmodel.acoustics.impedance import TABLE, impedance
from lipmodel.errors import SceneError
from lipmodel.files import folders, tables
from lipmodel.files.paths import LARGEST_FILE, read_bytes
from lipmodel.files.schema import one_of, quoted
from lipmodel.output.results.instruments import Series, held_words, series, series_figure
from lipmodel.player.instrument import Instrument, load_instrument
from lipmodel.scene.scene import Scene, Variant
from lipmodel.studies.causes import combination_sharpness
from lipmodel.units import sharp_or_flat


def run(args) -> int:
    if args.against and not args.out:
        raise SceneError("--against: expected --out DIR too, where the picture goes")
    instrument = load_instrument(args.what, args.celsius)
    asked = _variants(args, instrument)
    found = {v.name: series(v.scene, args.valves, args.celsius) for v in asked}
    found = found or {"": series(instrument, args.valves)}
    measured = _measured(args.against) if args.against else None
    places = _places(args, asked)
    for place, one in zip(places, found.values(), strict=False):
        _write(place, one, measured)
    if args.json:
        print(tables.json_text(_document(args, found)), end="")
        return 0
    for name, one in found.items():
        if name:
            print(_which(instrument.scene, name))
        _tell(one)
    for place in places:
        print(f"Wrote {place / 'picture.png'} and {place / 'impedance.csv'}")
    return 0


def _variants(args, instrument: Instrument) -> list[Variant]:
    """The variants of a scene that were asked for, the scene as written among them; none of what
    is no scene or has none."""
    known = instrument.scene.variants if instrument.scene else ()
    if args.variant is None:
        return list(known[:1]) if len(known) > 1 else []
    if not known:
        raise SceneError(f"--variant {args.variant}: {args.what} is no scene; expected a scene")
    named = [v for v in known if args.variant in ("all", v.name, v.folder)]
    if not named:
        names = [quoted(v.name) for v in known]
        raise SceneError(f"--variant {quoted(args.variant)}: expected {one_of([*names, 'all'])}")
    return named


def _places(args, asked: list[Variant]) -> list[Path]:
    """A folder for what is written, one a variant where there are several."""
    if not args.out:
        return []
    return [Path(args.out) / v.folder for v in asked] if len(asked) > 1 else [Path(args.out)]


def _document(args, found: dict[str, Series]) -> dict:
    """The first one's, with the name of its variant and, where all were asked for, every other."""
    rows = [one.to_dict() | ({"variant": name} if name else {}) for name, one in found.items()]
    return {**rows[0], "variants": rows} if args.variant == "all" else rows[0]


def _which(scene: Scene, shown: str) -> str:
    others = [variant.name for variant in scene.variants if variant.name != shown]
    count = f"{len(others)} other{'s' if len(others) > 1 else ''}"
    more = f"; --variant shows {count}: {', '.join(others)}" if others else ""
    return f"{scene.path}: {shown}{more}"


def _tell(found: Series):
    document = found.to_dict()
    for one in document["series"]:
        _print(found.instrument, one, len(document["series"]) > 1)


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
