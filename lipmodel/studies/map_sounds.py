"""A map to walk through by ear: the map of `studies/map.py` and the sound of its cells.

Every cell is played as the map plays it, and heard as a take is.  A finer map has sounds for
every second, third ... cell, so that a page that holds them stays small.
"""

from contextlib import closing
from math import ceil

import numpy as np

from lipmodel.acoustics.impedance import impedance
from lipmodel.analysis.spectrum import harmonics
from lipmodel.errors import SimulationError
from lipmodel.files import audio
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.build import Built
from lipmodel.player.gesture import Gesture
from lipmodel.player.note_names import nearest_partial, note_names, resonance_rows
from lipmodel.player.radiated import radiated_sound
from lipmodel.player.short_note import play_note
from lipmodel.sound import loudness
from lipmodel.sound.alignment import resampled
from lipmodel.studies import map_cells, map_document
from lipmodel.studies.map import NoteMap, refuse_too_many
from lipmodel.system.cluster import size
from lipmodel.system.tasks import Task
from lipmodel.system.workers import run_many
from lipmodel.units import KPA, cents

NOTE = 0.6  # s of a cell
APART = 0.65  # s from one cell to the next in the sound of a row
RELEASE = 0.05  # s at the end of a cell
MOST_SOUNDS = 640  # some 3 MB of MP3 as text
RATE = 24_000  # Hz of the sounds
LOUDNESS = -20.0  # LUFS
HARMONICS = 12
HIGHEST = 3000.0  # Hz of the resonance curve
SOUNDING = ("locked", "bent", "free", "unsteady")


def map_with_sounds(scene, how=1, progress=lambda done, total: None) -> dict:
    """The map of a scene with the sounds of its cells; `how` as in `run_many`, `progress` gets
    the number of rows and chunks done and of all.

    tension_hz, pressure_kpa, partial, state: the whole grid; columns, rows: those that sound;
    cells: for each of them None or a dict (frequency_hz, written, sounding, partial, cents, lock,
    state, level_db, harmonics_db); sounds: MP3 bytes, one a row; resonances: frequency_hz,
    level_db, and the rows of a report.  Raises SceneError where the map is too large.
    """
    scene = scene.replace({"map.note_s": NOTE})
    survey = NoteMap(scene, None, theory=False)  # a lesson is made in one go
    refuse_too_many(survey, scene.path, size(how))
    every = coarser(survey.grid.shape)
    kept = [list(range((n - 1) % every // 2, n, every)) for n in survey.grid.shape]
    chunks = len(survey.tasks())
    survey.run(how, lambda done, _: progress(done, chunks + len(kept[0])))
    tasks = [
        Task(row_heard, (float(survey.grid.pressure_kpa[r] * KPA), survey.grid.tension[kept[1]]))
        for r in kept[0]
    ]
    rows = [None] * len(tasks)
    with closing(run_many(tasks, how, survey.built)) as outcomes:
        for number, outcome in enumerate(outcomes, 1):
            if outcome.problem:
                raise SimulationError(f"{scene.path}: a row of the map's sounds: {outcome.problem}")
            rows[outcome.index] = outcome.value
            progress(chunks + number, chunks + len(tasks))
    return _document(survey, every, kept, rows)


def coarser(shape) -> int:
    """Every how manieth cell of a grid of this shape has a sound."""
    every = 1
    while ceil(shape[0] / every) * ceil(shape[1] / every) > MOST_SOUNDS:
        every += 1
    return every


def row_heard(built: Built, mouth, tensions) -> tuple[np.ndarray, list]:
    """One row of cells at `mouth` Pa: their sounds one after another at RATE, each at equal
    loudness, and for each cell the gain that took (dB) and its harmonics (Pa)."""
    step, told = round(APART * RATE), []
    line = np.zeros(step * len(tensions))
    for i, tension in enumerate(tensions):
        try:
            samples, gain, inside = _play_cell(built, float(tension), mouth)
        except SimulationError:  # it runs out of the model's range: told as unsteady, not heard
            told.append((None, None))
            continue
        line[i * step : i * step + len(samples)] = samples[:step]
        told.append((gain, inside))
    return line, told


def _play_cell(built, tension, mouth):
    """Samples, gain in dB, and the end of the mouthpiece pressure in Pa."""
    rate = built.rate
    played, _ = play_note(built.horn, tension, mouth, NOTE)
    gesture = Gesture(Breakpoints.of(mouth), Breakpoints.of(tension), NOTE)
    pressure = radiated_sound(built, gesture, played).pressure
    fall = int(RELEASE * rate)
    pressure[-fall:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(fall) / fall)
    leveled = loudness.matched(pressure, rate, LOUDNESS)
    inside = played.mouthpiece_pressure[-int(map_cells.MEASURED * rate) :]
    return resampled(leveled.samples, rate, RATE), leveled.gain_db, inside


def _document(survey: NoteMap, every, kept, rows) -> dict:
    whole = map_document.document(survey)
    own = resonance_rows(survey.built)
    gains = [g for _, told in rows for g, _ in told if g is not None]
    loudest = min(gains, default=0.0)
    cells = [
        [
            _cell(survey, whole, own, (r, c), told, loudest)
            for c, told in zip(kept[1], row[1], strict=True)
        ]
        for r, row in zip(kept[0], rows, strict=True)
    ]
    holding = {
        n
        for row in zip(whole["partial"], whole["state"], strict=True)
        for n, state in zip(*row, strict=True)
        if state in ("locked", "bent")
    }
    partial = [[n if n in holding else 0 for n in row] for row in whole["partial"]]
    return {
        **{k: whole[k] for k in ("tension_hz", "pressure_kpa", "state")},
        "partial": partial,
        "every": every,
        "rows": kept[0],
        "columns": kept[1],
        "cells": cells,
        "sounds": [audio.sound_bytes(line, RATE, "mp3") for line, _ in rows],
        "apart_s": APART,
        "note_s": NOTE,
        "resonances": own,
        "curve": _curve(survey.built),
    }


def _cell(survey, whole, own, where, told, loudest) -> dict | None:
    """One sounding cell as the page tells it; None where nothing sounds."""
    r, c = where
    state, frequency = whole["state"][r][c], whole["frequency_hz"][r][c]
    gain, inside = told
    if state not in SOUNDING or gain is None:
        return None
    cell = {"state": state, "level_db": round(loudest - gain, 1), "lock": whole["lock"][r][c]}
    if frequency is None:
        return cell
    nearest = nearest_partial(own, frequency)
    size_ = harmonics(inside, survey.built.rate, frequency, HARMONICS)
    level = 20 * np.log10(np.maximum(size_ / size_.max(), 1e-3))
    cell |= {"frequency_hz": round(frequency, 2), **note_names(survey.built, frequency)}
    cell["harmonics_db"] = np.round(level, 1).tolist()
    if nearest:
        cell["partial"] = nearest["n"]
        cell["from_partial"] = round(cents(frequency, nearest["frequency_hz"]), 1)
    return cell


def _curve(built: Built) -> dict:
    """The resonance curve, in dB under its highest peak."""
    f = np.geomspace(40.0, HIGHEST, 900)
    level = 20 * np.log10(np.abs(impedance(built.bore, built.air, f)))
    return {
        "frequency_hz": np.round(f, 1).tolist(),
        "level_db": np.round(level - level.max(), 1).tolist(),
    }
