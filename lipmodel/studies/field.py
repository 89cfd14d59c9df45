"""The standing wave of a played note, and of the partials beside it, all along the tube."""

import numpy as np

from lipmodel.acoustics.field import field, places, turns
from lipmodel.analysis.spectrum import complex_harmonics
from lipmodel.player.build import Built
from lipmodel.player.cached import kept_resonances
from lipmodel.player.gesture import steady_part
from lipmodel.player.performance import Performance
from lipmodel.player.tubing import first_position, held_bore

PARTIALS = range(2, 7)
HARMONICS = 12  # of the note, in its wave along the tube
TOLD = 6  # harmonics told one by one
FRAMES = 48
COARSE = 160  # places of the animation
MOST_WAVES = 12
SUMS = ("pressure_pa", "velocity_m_s")  # of the harmonics, frame by frame
FIRST = 0.5  # s of a sound without notes, before it is steady


def field_of_run(performance: Performance, rows) -> dict | None:
    """The field of the first note that sounded steadily, or None; `rows` as in report.json.

    x_m, radius_m, shape (n,); partials: n, frequency_hz, pressure and flow (sizes over x, 1 at
    their largest), pressure_antinodes_m, pressure_nodes_m (places where the flow is least and
    greatest); played: written, frequency_hz, partial; animation: what field.json holds;
    sentences.
    """
    known = _steady(performance, rows)
    if known is None:
        return None
    row, part, pulls = known
    built = performance.built
    bore = _held(built, row, pulls)
    x = places(bore)
    shown = _shown(kept_resonances(bore, built.air), row["partial"])
    partials = [_partial(bore, built.air, r, x) for r in shown]
    played = {k: row[k] for k in ("written", "sounding", "frequency_hz", "partial")}
    result = {
        "x_m": x, "radius_m": bore.radius_at(x), "partials": partials, "played": played,
        "animation": _animation(performance, bore, row, part),
    }  # fmt: skip
    result["sentences"] = _sentences(partials, played)
    return result


def waves_of_run(performance: Performance, rows) -> list[dict]:
    """The wave of each different note that sounded steadily, as sums of harmonics: what a page
    needs to move it; at most MOST_WAVES.  `rows` as in report.json.

    written, sounding, state, frequency_hz, frames, x_m, radius_m, lip_opening_mm2 and harmonics,
    as field.json has them, in fewer digits.
    """
    found = {}
    for row, part, pulls in _steady_notes(performance, rows):
        key = row["written"], row["state"], row["valves"], row["slide_position"]
        if key not in found and len(found) < MOST_WAVES:
            bore = _held(performance.built, row, pulls)
            moving = _animation(performance, bore, row, part, HARMONICS, 3)
            kept = {k: v for k, v in moving.items() if k not in ("how", *SUMS)}
            found[key] = {k: row[k] for k in ("written", "sounding", "state")} | kept
    return [*found.values()]


def _steady(performance, rows):
    """(row, samples, pulls) of the first note with a pitch, as in `build.held_bore`."""
    return next(_steady_notes(performance, rows), None)


def _steady_notes(performance, rows):
    """(row, samples, pulls) of each note with a pitch; a sound without notes must not be swept,
    and has one."""
    rate, notes = performance.built.rate, performance.gesture.notes
    for number, row in enumerate(rows):
        if row["frequency_hz"] is None:
            continue
        if number < len(notes):
            yield row, steady_part(notes[number], rate), notes[number].pulls
        if not notes:
            last = int(row["end_s"] * rate)
            part = slice(max(int(row["start_s"] * rate), last - int(FIRST * rate)), last)
            yield row, part, None
            return


def _held(built: Built, row, pulls):
    place = row["slide_position"]
    plain = row["valves"] == "0" and place == first_position(built)
    return built.bore if plain else held_bore(built, row["valves"], place, pulls)


def _shown(resonances, played) -> list:
    """Partials 2 to 6, the played one among them; all where there are few."""
    if len(resonances) < PARTIALS.stop:
        return resonances
    wanted = [*PARTIALS]
    if played is not None and played not in wanted:
        wanted = [played, *wanted[:-1]] if played < wanted[0] else [*wanted[:-1], played]
    return [r for r in resonances if r.n in wanted]


def _partial(bore, air, resonance, x) -> dict:
    wave = field(bore, air, resonance.frequency, x, pressure=np.ones(1))
    antinodes, nodes = turns(bore, air, resonance.frequency)
    pressure, flow = np.abs(wave.pressure[0]), np.abs(wave.flow[0])
    return {
        "n": resonance.n,
        "frequency_hz": resonance.frequency,
        "pressure": pressure / pressure.max(),
        "flow": flow / flow.max(),
        "pressure_antinodes_m": [0.0, *antinodes.tolist()],
        "pressure_nodes_m": nodes.tolist(),
    }


def _animation(performance, bore, row, part, told=TOLD, digits=4) -> dict:
    """One period of the note along the tube, and the amplitudes of `told` harmonics alone."""
    built, rate, f = performance.built, performance.built.rate, row["frequency_hz"]
    inside = performance.played.mouthpiece_pressure[part]
    amplitude = complex_harmonics(inside, rate, f, HARMONICS)
    n = np.arange(1, len(amplitude) + 1)
    x = np.linspace(0, bore.length, COARSE)
    radius = bore.radius_at(x)
    wave = field(bore, built.air, n * f, x, pressure=amplitude)
    speed = wave.flow / (np.pi * radius**2)
    turn = np.exp(2j * np.pi * np.outer(np.arange(FRAMES) / FRAMES, n))
    time = part.start + np.arange(FRAMES) / FRAMES * rate / f
    first = int(time[0])
    trace = performance.played.lip_opening[first : int(time[-1]) + 2]
    opening = np.interp(time - first, np.arange(len(trace)), trace)
    return {
        "how": "frames are equal steps of one period; of harmonic n alone the pressure at frame "
        "k of K is pressure_re cos(2 pi n k/K) - pressure_im sin(2 pi n k/K), velocity likewise",
        "frequency_hz": round(f, 3),
        "frames": FRAMES,
        "x_m": np.round(x, 4).tolist(),
        "radius_m": np.round(radius, 5).tolist(),
        "pressure_pa": _short((turn @ wave.pressure).real, digits),
        "velocity_m_s": _short((turn @ speed).real, digits),
        "lip_opening_mm2": _short(1e6 * opening, digits),
        "harmonics": [
            {
                "n": i + 1,
                "pressure_re_pa": _short(wave.pressure[i].real, digits),
                "pressure_im_pa": _short(wave.pressure[i].imag, digits),
                "velocity_re_m_s": _short(speed[i].real, digits),
                "velocity_im_m_s": _short(speed[i].imag, digits),
            }
            for i in range(min(told, len(n)))
        ],
    }


def _short(values, digits) -> list:
    """Rounded to `digits` of the largest."""
    values = np.asarray(values)
    top = np.abs(values).max()
    places_ = digits - 1 - int(np.floor(np.log10(top))) if top > 0 else 0
    rounded = np.round(values, places_)
    return (rounded.astype(int) if places_ <= 0 else rounded + 0.0).tolist()


def _sentences(partials, played) -> list[str]:
    mine = next((p for p in partials if p["n"] == played["partial"]), None)
    if mine is None:
        return []
    nodes = ", ".join(f"{100 * x:.0f}" for x in mine["pressure_nodes_m"])
    count = len(mine["pressure_nodes_m"])
    if not count:
        return ["All along the tube the pressure swings together (field.png)."]
    more = "s" if count > 1 else ""
    return [
        f"Partial {mine['n']} has {count} node{more} of pressure inside the tube, {nodes} cm from "
        "the lips: there the air moves most. At the lips the pressure is greatest and the air "
        "stands nearly still (field.png)."
    ]
