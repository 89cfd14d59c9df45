"""Resonance series of every valve combination."""

from lipmodel.acoustics.resonances import resonances
from lipmodel.bore import assembly
from lipmodel.bore.valves import has_mark, parse_valves, valve_numbers, valve_set
from lipmodel.errors import SceneError
from lipmodel.player.build import first_slide_position, scene_bore
from lipmodel.player.fingering import combinations_of
from lipmodel.player.instrument import Instrument, brassiness_of, series_fundamental
from lipmodel.player.tuning import highest_position
from lipmodel.units import cents, nearest_note

SERIES = ("0", "2", "1", "12", "23", "13", "123")


def series_asked(instrument: Instrument, valves) -> list[tuple[str, float | None]]:
    """(valves, slide position) of every series; position None: where the scene has it first."""
    if valves is None:
        valves = instrument.scene.instrument.valves if instrument.scene else "0"
        return [("0" if valves == "auto" else valves, None)]
    if valves != "all":
        try:
            return [(parse_valves(valves), None)]
        except ValueError as error:
            raise SceneError(
                f'--valves {valves}: expected valves such as "0", "13" or "all"'
            ) from error
    if has_mark(instrument.spec, "slide"):
        return [("0", float(p)) for p in range(1, round(highest_position(instrument.spec)) + 1)]
    known = [v for v, _ in combinations_of(instrument.spec)]
    if len(valve_numbers(instrument.spec)) == 3:
        known = [v for v in SERIES if v in known]
    return [(valves, None) for valves in known]


def series_bore(instrument: Instrument, valves: str, position: float | None):
    pressed = valve_set(instrument.spec, valves)
    if instrument.scene is None:
        return assembly.to_bore(instrument.spec, valves=pressed, slide_position=position or 1.0)
    return scene_bore(instrument.scene, instrument.spec, position, valves)


def one_series(instrument: Instrument, valves: str, position: float | None, bore) -> dict:
    peaks = resonances(bore, instrument.air)
    rows = []
    base = series_fundamental(peaks)
    for r in peaks:
        semitone, off = nearest_note(r.frequency, instrument.a4)
        rows.append(
            {
                "n": r.n,
                "frequency_hz": r.frequency,
                "magnitude_pa_s_m3": r.magnitude,
                "quality": r.quality,
                **instrument.names(semitone),
                "cents": off,
                "cents_from_harmonic": cents(r.frequency, r.n * base) if base else None,
            }
        )
    if position is None:
        position = first_slide_position(instrument.scene) if instrument.scene else 1.0
    return {
        "valves": valves, "slide_position": position, "fundamental_hz": base, "resonances": rows,
    }  # fmt: skip


def sharpness(instrument: Instrument, series):
    """Adds to each series how sharp it is, in cents, of the semitones that its valves or slide
    position should lower the first series by."""
    base = series[0]["fundamental_hz"]
    if len(series) < 2 or not base:
        return
    lowers = dict(combinations_of(instrument.spec))
    for one in series:
        semitones = lowers[one["valves"]] + one["slide_position"] - 1
        own = one["fundamental_hz"]
        one["sharp_cents"] = cents(own, base) + 100 * semitones if own else None


def series_document(instrument: Instrument, series, bores) -> dict:
    air = instrument.air.at_open_end
    return {
        "what": instrument.name,
        "air": {
            "temperature_c": instrument.celsius,
            "sound_speed_m_s": air.sound_speed,
            "density_kg_m3": air.density,
        },
        "series": series,
        "brassiness": brassiness_of(instrument.spec, next(iter(bores.values())), instrument.air),
    }
