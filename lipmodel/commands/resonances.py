"""lipmodel resonances"""

import warnings
from pathlib import Path

import numpy as np

from lipmodel import borefile, files
from lipmodel.acoustics.impedance import impedance
from lipmodel.acoustics.resonances import resonances
from lipmodel.borefile import valve_numbers, valve_set
from lipmodel.build import scene_bore
from lipmodel.errors import SceneError
from lipmodel.fingering import combinations_of
from lipmodel.units import cents, nearest_note, note_name, sharp_or_flat
from lipmodel.what import What, find

GRID = np.arange(20.0, 2000.0, 0.5)  # Hz, of impedance.csv
SERIES = ("0", "2", "1", "12", "23", "13", "123")


def run(args) -> int:
    if args.against and not args.out:
        raise SceneError("--against: expected --out DIR too, where the picture goes")
    what = find(args.what, args.celsius)
    bores = {valves: _bore(what, valves) for valves in _series_asked(what, args.valves)}
    series = [_series(what, valves, bore) for valves, bore in bores.items()]
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


def _series_asked(what: What, valves):
    if valves is None:
        valves = what.scene.instrument.valves if what.scene else "0"
        return ["0" if valves == "auto" else valves]
    if valves != "all":
        try:
            return [borefile.parse_valves(valves)]
        except ValueError as error:
            raise SceneError(
                f'--valves {valves}: expected valves such as "0", "13" or "all"'
            ) from error
    known = [v for v, _ in combinations_of(what.spec)]
    return [v for v in SERIES if v in known] if len(valve_numbers(what.spec)) == 3 else known


def _bore(what: What, valves: str):
    pressed = valve_set(what.spec, valves)
    if what.scene is None:
        return borefile.to_bore(what.spec, valves=pressed)
    table = what.scene.instrument.model_copy(update={"valves": valves})
    player = what.scene.player.model_copy(update={"tension_hz": 100.0})
    return scene_bore(
        what.scene.model_copy(update={"instrument": table, "player": player}), what.spec
    )


def _series(what: What, valves: str, bore) -> dict:
    found = resonances(bore, what.air)
    rows = []
    base = _fundamental(found)
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
    return {"valves": valves, "slide_position": 1.0, "resonances": rows}


def _fundamental(found) -> float | None:
    """Fundamental in Hz of the harmonic series that fits resonances 2 to 8 best (cents)."""
    used = [r for r in found if 2 <= r.n <= 8]
    if not used:
        return None
    return float(np.exp(np.mean([np.log(r.frequency / r.n) for r in used])))


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
        "brassiness": brassiness(what, next(iter(bores.values()))),
    }


def brassiness(what: What, bore) -> float | None:
    """Mean over the equivalent cone length of D0/D(x), without the mouthpiece (A. Myers, R. W.
    Pyle, J. Gilbert and D. M. Campbell, 2010, eq. 1).

    D0 is the diameter where the leadpipe begins; the length is c/(2 f) of the pitch the
    instrument is built in, or that of a bare test bore itself.  None for a mouthpiece alone.
    """
    start = max((s.end for s in bore.sections if s.name == "mouthpiece"), default=0.0)
    if not start < bore.length:
        return None
    x = np.linspace(start, bore.length, 4001)
    radius = bore.radius_at(x)
    total = np.trapezoid(radius[0] / radius, x)
    if what.spec.kind != "instrument":
        return float(total / (bore.length - start))
    base = _fundamental(resonances(bore, what.air)) or 1.0
    speed = float(np.ravel(what.air.along(np.array([1.0])).sound_speed)[0])
    return float(total / (speed / (2 * base)))


def _print(what: What, one: dict, several: bool):
    valves = "open" if one["valves"] == "0" else f"valves {one['valves']}"
    more = f", {valves}" if several or one["valves"] != "0" else ""
    print(f"{what.name}{more}, {what.celsius:g} degrees C")
    print("   n        Hz   MPa s/m3      Q  written sounding  cents")
    for r in one["resonances"]:
        q = f"{r['quality']:6.1f}" if r["quality"] else "     -"
        print(
            f"  {r['n']:2d}  {r['frequency_hz']:8.2f}   {r['magnitude_pa_s_m3'] / 1e6:8.2f} {q}  "
            f"{r['written']:7} {r['sounding']:8} {r['cents']:+6.1f} {sharp_or_flat(r['cents'])}"
        )


def _write(folder: Path, what: What, bores, series, measured):
    from lipmodel.pictures.impedance import impedance_figure
    from lipmodel.pictures.save import figure_bytes

    curves, columns = [], {"frequency_hz": GRID}
    for valves, bore in bores.items():
        z = impedance(bore, what.air, GRID)
        label = "open" if valves == "0" else f"valves {valves}"
        curves.append((label, GRID, np.abs(z)))
        tag = "" if len(bores) == 1 else f"_{valves}"
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
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # an empty file is told below
            table = np.genfromtxt(path, delimiter=",", comments="#", ndmin=2)
    except (OSError, ValueError) as error:
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
