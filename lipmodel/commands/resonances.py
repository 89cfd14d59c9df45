"""lipmodel resonances"""

import io
import warnings
from pathlib import Path

import numpy as np

from lipmodel import borefile, files
from lipmodel.acoustics.impedance import TABLE, impedance
from lipmodel.acoustics.resonances import resonances
from lipmodel.borefile import valve_numbers, valve_set
from lipmodel.build import scene_bore
from lipmodel.errors import SceneError
from lipmodel.fingering import combinations_of
from lipmodel.paths import LARGEST_FILE, read_bytes
from lipmodel.reasons import combination_sharpness
from lipmodel.tuning import brassiness_of, highest_position, series_fundamental
from lipmodel.units import cents, nearest_note, note_name, sharp_or_flat
from lipmodel.what import What, find

SERIES = ("0", "2", "1", "12", "23", "13", "123")


def run(args) -> int:
    if args.against and not args.out:
        raise SceneError("--against: expected --out DIR too, where the picture goes")
    what = find(args.what, args.celsius)
    bores = {held: _bore(what, *held) for held in _series_asked(what, args.valves)}
    series = [_series(what, *held, bore) for held, bore in bores.items()]
    _sharpness(what, series)
    measured = _measured(args.against) if args.against else None
    if args.out:
        _write(Path(args.out), what, bores, series, measured)
    if args.json:
        print(files.json_text(_document(what, series, bores)), end="")
        return 0
    for one in series:
        _print(what, one, len(series) > 1)
    if args.out:
        print(f"Wrote {Path(args.out) / 'picture.png'} and {Path(args.out) / 'impedance.csv'}")
    return 0


def _series_asked(what: What, valves) -> list[tuple[str, float | None]]:
    """(valves, slide position) of every series; position None: where the scene has it first."""
    if valves is None:
        valves = what.scene.instrument.valves if what.scene else "0"
        return [("0" if valves == "auto" else valves, None)]
    if valves != "all":
        try:
            return [(borefile.parse_valves(valves), None)]
        except ValueError as error:
            raise SceneError(
                f'--valves {valves}: expected valves such as "0", "13" or "all"'
            ) from error
    if borefile.has_mark(what.spec, "slide"):
        return [("0", float(p)) for p in range(1, round(highest_position(what.spec)) + 1)]
    known = [v for v, _ in combinations_of(what.spec)]
    if len(valve_numbers(what.spec)) == 3:
        known = [v for v in SERIES if v in known]
    return [(valves, None) for valves in known]


def _bore(what: What, valves: str, position: float | None):
    pressed = valve_set(what.spec, valves)
    if what.scene is None:
        return borefile.to_bore(what.spec, valves=pressed, slide_position=position or 1.0)
    table = what.scene.instrument.model_copy(update={"valves": valves})
    scene = what.scene.model_copy(update={"instrument": table})
    if scene.player is not None:  # valves stay down, as in a sweep
        held = scene.player.model_copy(update={"tension_hz": 100.0})
        scene = scene.model_copy(update={"player": held})
    return scene_bore(scene, what.spec, position)


def _series(what: What, valves: str, position: float | None, bore) -> dict:
    found = resonances(bore, what.air)
    rows = []
    base = series_fundamental(found)
    for r in found:
        semitone, off = nearest_note(r.frequency, what.a4)
        written = semitone - (what.spec.transposition_semitones or 0)
        rows.append(
            {
                "n": r.n,
                "frequency_hz": r.frequency,
                "magnitude_pa_s_m3": r.magnitude,
                "quality": r.quality,
                "sounding": note_name(semitone, what.spelling),
                "written": note_name(written, what.spelling),
                "cents": off,
                "cents_from_harmonic": cents(r.frequency, r.n * base) if base else None,
            }
        )
    if position is None:
        first = what.scene.instrument.slide_position if what.scene else 1.0
        position = first if np.isscalar(first) else first[0][1]
    return {
        "valves": valves, "slide_position": position, "fundamental_hz": base, "resonances": rows,
    }  # fmt: skip


def _sharpness(what: What, series):
    """Adds to each series how sharp it is, in cents, of the semitones that its valves or slide
    position should lower the first series by."""
    base = series[0]["fundamental_hz"]
    if len(series) < 2 or not base:
        return
    lowers = dict(combinations_of(what.spec))
    for one in series:
        semitones = lowers[one["valves"]] + one["slide_position"] - 1
        found = one["fundamental_hz"]
        one["sharp_cents"] = cents(found, base) + 100 * semitones if found else None


def _document(what: What, series, bores) -> dict:
    air = what.air.along(np.array([1.0]))
    return {
        "what": what.name,
        "air": {
            "temperature_c": what.celsius,
            "sound_speed_m_s": float(np.ravel(air.sound_speed)[0]),
            "density_kg_m3": float(np.ravel(air.density)[0]),
        },
        "series": series,
        "brassiness": brassiness_of(what.spec, next(iter(bores.values())), what.air),
    }


def _print(what: What, one: dict, several: bool):
    more = f", {_held_words(one)}" if several or one["valves"] != "0" else ""
    print(f"{what.name}{more}, {what.celsius:g} degrees C")
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


def _write(folder: Path, what: What, bores, series, measured):
    from lipmodel.pictures.impedance import impedance_figure
    from lipmodel.pictures.save import figure_bytes

    curves, columns = [], {"frequency_hz": TABLE}
    for one, bore in zip(series, bores.values(), strict=True):
        z = impedance(bore, what.air, TABLE)
        curves.append((_held_words(one), TABLE, np.abs(z)))
        held = one["valves"] if one["slide_position"] == 1 else f"p{one['slide_position']:g}"
        tag = "" if len(bores) == 1 else f"_{held}"
        columns[f"real_pa_s_m3{tag}"], columns[f"imaginary_pa_s_m3{tag}"] = z.real, z.imag
    rows = series[0]["resonances"] if len(series) == 1 else []
    figure = impedance_figure(what.name, curves, rows, measured=measured)
    with files.folder_written(folder) as work:
        (work / "picture.png").write_bytes(figure_bytes(figure))
        (work / "impedance.csv").write_text(files.columns_csv(columns), encoding="utf-8")
        document = _document(what, series, bores)
        (work / "resonances.json").write_text(files.json_text(document), encoding="utf-8")


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
