"""Air, pitch, slide and steepening rows."""

import math

import numpy as np

from lipmodel.analysis.pitch import HOP
from lipmodel.output.report_types import Air, Pitch, Slide, Steepening
from lipmodel.player.cached import kept_resonances
from lipmodel.player.instrument import brassiness_of
from lipmodel.player.performance import Performance
from lipmodel.player.tubing import held_bore

SLIDE_COLUMNS = 9  # positions at which the resonances along a moving slide are worked out


def steepening_row(performance: Performance) -> Steepening:
    """Where a wave as steep as the steepest of the take would break in a cylinder (m; None for
    never), when it left the mouthpiece, how far the bore takes it towards that (1: a shock), and
    the bore's brassiness."""
    built, heard = performance.built, performance.heard
    steepened = heard.steepened
    far = heard.shock_distance
    return {
        "on": built.scene.sound.steepening and steepened is not None,
        "shock_distance_m": far if math.isfinite(far) else None,
        "at_s": None if steepened is None else round(steepened.at, 4),
        "strength": heard.strength,
        "brassiness": brassiness_of(built.spec, built.bore, built.air),
    }


def air_row(built) -> Air:
    air = built.outside
    return {
        "temperature_c": built.scene.air.temperature_c,
        "sound_speed_m_s": air.sound_speed,
        "density_kg_m3": air.density,
    }


def slide_rows(performance: Performance) -> Slide | None:
    """A slide that moved: its position against time, and the resonances at nine positions (the
    first so many in Hz as all of them have).  None where it was held."""
    motion = performance.gesture.slide
    if motion is None:
        return None
    built = performance.built
    length = len(performance.mouth) / built.rate
    times = np.arange(0.0, length + HOP, HOP)
    places = motion.position_at(times)
    grid = np.unique(np.linspace(places.min(), places.max(), SLIDE_COLUMNS).round(4))
    valves = built.scene.instrument.valves if not performance.gesture.notes else "0"
    columns = [
        [r.frequency for r in kept_resonances(held_bore(built, valves, p), built.air)]
        for p in grid.tolist()
    ]
    count = min(map(len, columns))
    return {
        "time_s": [round(float(t), 4) for t in times],
        "position": [round(float(p), 4) for p in places],
        "positions": grid.tolist(),
        "resonances_hz": [column[:count] for column in columns],
    }


def pitch_rows(times, track) -> Pitch:
    """The pitch track for JSON: null where it is silent."""
    return {
        "time_s": [round(float(t), 4) for t in times],
        "frequency_hz": [None if np.isnan(f) else round(float(f), 3) for f in track],
        "step_s": HOP,
    }
