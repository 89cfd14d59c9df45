"""The slots of a scene: its range, its breath, both sweeps."""

from dataclasses import dataclass

import numpy as np

from lipmodel.analysis.sweeps import Sweep, slot_rows, sweep
from lipmodel.errors import SceneError
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.build import Built, first_slide_position, note_pressure
from lipmodel.player.cached import kept_resonances
from lipmodel.player.playable_range import playable_range
from lipmodel.player.tubing import first_position, held_bore, lines_for
from lipmodel.units import KPA, note_frequency

ATTACK = 0.2  # s: a breath that rises from nothing within this is taken as risen
GRID = 2000  # points of the path from setting to breath
COLUMNS = ("tension_hz", "pressure_kpa", "frequency_hz", "lock", "rms_pa", "centroid_hz")


@dataclass(frozen=True)
class Slots:
    """Both sweeps of a scene with their rows; resonances as (n, Hz)."""

    up: Sweep
    down: Sweep
    up_rows: list
    down_rows: list
    resonances: list


def range_and_breath(built: Built, resonances):
    """(low, high) in Hz and the mouth pressure in Pa as a function of the setting, on a bore of
    these resonances (Hz, rising).

    A scene with breakpoints of tension is swept over their range with the breath it has at each
    setting; any other over the playable range with its own (first note's) breath.
    """
    player = built.scene.player
    if player.tension_hz is None:
        note = built.scene.phrase()[0]
        frequency = note_frequency(built.sounding(note.note), built.scene.notes.a4_hz)
        mouth = max(note_pressure(built, note, frequency).values)
        return playable_range(resonances), lambda tension: np.full(np.shape(tension), mouth)
    tension, breath = Breakpoints.of(player.tension_hz), Breakpoints.of(player.pressure_kpa)
    span = (min(tension.values), max(tension.values))
    if not span[1] > 1.01 * span[0]:
        span = playable_range(resonances)
    if not (breath.moves and tension.moves):
        return span, lambda tension: np.full(np.shape(tension), max(breath.values) * KPA)
    return span, _breath_against_setting(tension, breath)


def _breath_against_setting(tension: Breakpoints, breath: Breakpoints):
    (first_time, first), *others = breath.points
    rate = GRID / max(tension.times[-1], breath.times[-1], 1e-3)
    tension, pressure = (p.sampled(rate, GRID + 1) for p in (tension, breath))
    if first == 0 and others and others[0][0] - first_time <= ATTACK:
        pressure = np.maximum(pressure, np.where(pressure < others[0][1], others[0][1], 0))
    order = np.argsort(tension, kind="stable")

    def breath(settings):
        return KPA * np.interp(np.log(settings), np.log(tension[order]), pressure[order])

    return breath


def slots(built: Built, progress=lambda words: None) -> Slots:
    """Sweep the scene's lips up and down.  SceneError where nothing sounds either way."""
    position = first_slide_position(built.scene)
    bore, lines = built.bore, lines_for(built, "0")
    if position != first_position(built):  # swept with the slide where the scene has it first
        bore = held_bore(built, "0", position)
        lines = lines_for(built, "0", slide_position=position)
    resonances = [(r.n, r.frequency) for r in kept_resonances(bore, built.air)]
    (low, high), breath = range_and_breath(built, [f for _, f in resonances])
    progress("up")
    up = sweep(built.horn, low, high, breath, True, lines)
    progress("down")
    down = sweep(built.horn, low, high, breath, False, lines)
    if not (np.isfinite(up.frequency).any() or np.isfinite(down.frequency).any()):
        raise SceneError(
            f"{built.scene.path}: nothing sounds between {low:.0f} and {high:.0f} Hz of lip "
            f"setting at up to {up.pressure.max() / KPA:.3g} kPa; more breath would help"
        )
    return Slots(up, down, slot_rows(up, resonances), slot_rows(down, resonances), resonances)


def sweep_columns(sweep) -> dict:
    values = (
        sweep.tension, sweep.pressure / 1e3, sweep.frequency,
        sweep.lock, sweep.rms, sweep.centroid,
    )  # fmt: skip
    return dict(zip(COLUMNS, values, strict=True))


def sweep_table(found: Slots) -> dict:
    """Both sweeps below each other, the way up marked by 1."""
    up, down = sweep_columns(found.up), sweep_columns(found.down)
    going_up = np.r_[np.ones(len(found.up.tension)), np.zeros(len(found.down.tension))]
    both = {name: np.concatenate([up[name], down[name]]) for name in COLUMNS}
    return {"going_up": going_up} | both


def slots_document(found: Slots) -> dict:
    def plain(values):
        return [None if np.isnan(v) else round(float(v), 5) for v in values]

    def columns(sweep):
        return {name: plain(values) for name, values in sweep_columns(sweep).items()}

    return {
        "up": found.up_rows,
        "down": found.down_rows,
        "sweep": {"up": columns(found.up), "down": columns(found.down)},
    }
