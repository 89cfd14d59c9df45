"""The map of a scene: its grid, its many notes, and what is kept when they are stopped."""

import hashlib
import time
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.files.cache import read_checked, with_checksum
from lipmodel.files.schema import is_number, range_text
from lipmodel.mouth import Mouth
from lipmodel.player.build import Built, build
from lipmodel.player.cached import kept_resonances
from lipmodel.player.playable_range import playable_range
from lipmodel.scene.scene import Scene
from lipmodel.studies import map_cells
from lipmodel.system.tasks import Outcome, Task
from lipmodel.system.workers import run_many
from lipmodel.units import KPA

PRESSURE_KPA = {"small": (1.0, 16.0), "large": (0.7, 10.0)}
THRESHOLDS = (0.80, 1.05, 7)  # from, to (of the resonance), how many settings
MOUTH_HZ, PRESSURE = (100.0, 2000.0), (0.05, 40.0)  # Hz; kPa
CHUNK = 12  # cells in a task: a quarter of a second
KEPT_EVERY = 2.0  # s
MOST_CELLS = 200_000
PRELOAD = ("lipmodel.studies.preload",)  # what the tasks of a worker call
CONTINUED = 1.0  # s of sound that lock adds to a note
COST = 0.014  # s of work for a second of sound at 48 kHz, pitch and all, measured


@dataclass(frozen=True)
class Grid:
    """Lip settings in Hz (columns) and mouth pressures in kPa (rows), rising; or, at one pressure
    in all rows, resonances of the mouth in Hz, rising."""

    tension: np.ndarray
    pressure_kpa: np.ndarray
    mouth_hz: np.ndarray | None = None

    @property
    def shape(self) -> tuple[int, int]:
        return len(self.pressure_kpa), len(self.tension)


@dataclass(frozen=True)
class MouthRows:
    """Rows of a map that are resonances of the mouth, from and to in Hz, at one breath in kPa."""

    mouth_hz: tuple[float, float]
    pressure_kpa: float


def wrong_rows(mouth_hz, pressure_kpa, named=str):
    """(name, value, what was expected) of what makes no MouthRows; None where both do, or where
    neither is given.  `named`: how a name is written there."""
    if mouth_hz is None and pressure_kpa is None:
        return None
    if mouth_hz is None:
        told = f"to be left out without {named('mouth_hz')}: then each row is another breath"
        return "pressure_kpa", pressure_kpa, told
    low, high = MOUTH_HZ
    pair = isinstance(mouth_hz, list | tuple) and len(mouth_hz) == 2
    if not (pair and all(map(is_number, mouth_hz)) and low <= mouth_hz[0] < mouth_hz[1] <= high):
        return "mouth_hz", mouth_hz, f"two rising numbers from {low:g} to {high:g} Hz"
    if pressure_kpa is None:
        told = f"{named('pressure_kpa')} beside it: all rows are played at one breath"
        return "mouth_hz", mouth_hz, told
    if not (is_number(pressure_kpa) and PRESSURE[0] <= pressure_kpa <= PRESSURE[1]):
        return "pressure_kpa", pressure_kpa, range_text(*PRESSURE, "kPa")
    return None


def grid_of(built: Built, resonances, led: MouthRows | None = None) -> Grid:
    """The scene's grid; where it names no range, the playable one of `resonances` in Hz.

    Settings are even in cents, and so are resonances of the mouth; pressures too, but even in kPa
    where they begin at 0.
    """
    given = built.scene.map
    low, high = given.tension_hz or playable_range(resonances)
    if led is not None:
        settings = np.geomspace(low, high, given.columns)
        return Grid(
            settings, np.full(given.rows, led.pressure_kpa), np.geomspace(*led.mouth_hz, given.rows)
        )
    soft, loud = given.pressure_kpa or PRESSURE_KPA[built.spec.player]
    spaced = np.geomspace if soft > 0 else np.linspace
    return Grid(np.geomspace(low, high, given.columns), spaced(soft, loud, given.rows))


class NoteMap:
    """A map on its way: tasks, what they found so far, and the file that keeps it.

    Without a `target` nothing is kept; without `theory` the line above which notes begin is left
    out.  With `led` rows are resonances of the mouth, the scene's or else one as `lipmodel.mouth`
    has it; that line is left out then.
    """

    def __init__(
        self, scene: Scene, target: Path | None, theory: bool = True, led: MouthRows | None = None
    ):
        self.built = build(scene, held=True)
        if led is not None and self.built.horn.mouth is None:
            horn = replace(self.built.horn, mouth=Mouth(led.mouth_hz[0]))
            self.built = replace(self.built, horn=horn)
        self.resonances = np.array(
            [r.frequency for r in kept_resonances(self.built.bore, self.built.air)]
        )
        self.grid = grid_of(self.built, self.resonances, led)
        self.note = scene.map.note_s
        self.kept = target and Path(target).with_name(Path(target).name + ".partial.npz")
        self.softest = self._softest_settings() if theory and led is None else []
        rows, columns = self.grid.shape
        self.cells = np.full((rows, columns, len(map_cells.COLUMNS)), np.nan)
        self.thresholds = np.full((len(self.softest), 2), np.nan)
        self.chunks = [
            (row, slice(first, min(first + CHUNK, columns)))
            for row in range(rows)
            for first in range(0, columns, CHUNK)
        ]
        self.done = np.zeros(len(self.chunks) + len(self.softest), bool)
        self.problems: dict[int, str] = {}
        self.seconds, self.workers = 0.0, 1

    def _softest_settings(self):
        """(partial, setting in Hz) of each threshold that lies within the grid."""
        low, high = self.grid.tension[[0, -1]]
        shares = np.linspace(*THRESHOLDS)
        return [
            (n, share * f)
            for n, f in enumerate(self.resonances, 1)
            for share in shares
            if low <= share * f <= high
        ]

    def hours(self, workers: int) -> float:
        """Estimated time of the whole map."""
        sound = self.grid.shape[0] * self.grid.shape[1] * (self.note + CONTINUED)
        return COST * sound * self.built.rate / 48_000 / workers / 3600

    def tasks(self) -> list[Task]:
        mouths = self.grid.pressure_kpa * KPA
        notes = [
            Task(map_cells.cells, (float(mouths[row]), self.grid.tension[part], *self._led(row)))
            for row, part in self.chunks
        ]
        theory = [
            Task(map_cells.threshold_at, (float(tension), float(self.resonances[n - 1])))
            for n, tension in self.softest
        ]
        return notes + theory

    def _led(self, row):
        """The mouth's resonance in a row, where rows have one."""
        return () if self.grid.mouth_hz is None else (float(self.grid.mouth_hz[row]),)

    def run(self, how=1, progress=lambda done, total: None):
        """Everything not yet done; `how` as in `run_many`.

        `progress` is called with the number of tasks done and of all.  What is finished is kept
        every two seconds, and when it is stopped; `resume` takes it up.
        """
        began = saved = time.perf_counter()
        tasks = self.tasks()
        open_ = [i for i in range(len(tasks)) if not self.done[i]]
        built = self.built
        shared = map_cells.MapSetup(built.horn, built.bore, built.air, self.note)
        progress(len(tasks) - len(open_), len(tasks))
        seen = len(tasks) - len(open_)
        try:
            with closing(run_many([tasks[i] for i in open_], how, shared, PRELOAD)) as outcomes:
                for outcome in outcomes:
                    self._take(open_[outcome.index], outcome)
                    seen += 1
                    if time.perf_counter() - saved > KEPT_EVERY:
                        self.keep()
                        saved = time.perf_counter()
                    progress(seen, len(tasks))
        except BaseException:
            if self.done.any():
                self.keep()
            raise
        else:
            if self.problems:
                self.keep()
        finally:
            self.seconds += time.perf_counter() - began

    def _take(self, index: int, outcome: Outcome):
        if outcome.problem is not None:
            self.problems[index] = outcome.problem
            return
        self.done[index] = True
        if index < len(self.chunks):
            self.cells[self.chunks[index]] = outcome.value
        else:
            self.thresholds[index - len(self.chunks)] = outcome.value

    def keep(self):
        """What is finished, beside the target; complete or absent."""
        if self.kept is None:
            return
        arrays = {
            "digest": self.digest(),
            "done": self.done,
            "cells": self.cells,
            "thresholds": self.thresholds,
            "seconds": self.seconds,
        }
        folders.write_bytes(self.kept, with_checksum(arrays))

    def resume(self) -> bool:
        """Take up what an earlier run of exactly this map has kept; False without it."""
        known = read_checked(self.kept)
        if known is None or str(known["digest"]) != self.digest():
            return False
        self.done, self.cells, self.thresholds = (known[k] for k in ("done", "cells", "thresholds"))
        self.seconds = float(known["seconds"])
        return True

    def forget(self):
        """Remove what was kept."""
        self.kept.unlink(missing_ok=True)

    def digest(self) -> str:
        """Of all that the result follows from, the package's own source too."""
        bore, grid = self.built.bore, self.grid
        total = hashlib.sha256()
        for path in sorted(Path(__file__).parents[1].rglob("*.py")):
            total.update(path.read_bytes())
        led = np.zeros(0) if grid.mouth_hz is None else grid.mouth_hz
        for array in (bore.x, bore.radius, grid.tension, grid.pressure_kpa, led):
            total.update(array.tobytes())
        horn = self.built.horn
        numbers = (bore.end, self.built.air, horn.lips, horn.mouth, self.built.rate, self.note)
        total.update(repr(numbers).encode())
        return total.hexdigest()

    @property
    def cells_done(self) -> int:
        inside = self.done[: len(self.chunks)]
        return sum(
            part.stop - part.start
            for (_, part), done in zip(self.chunks, inside, strict=True)
            if done
        )


def refuse_too_many(survey: NoteMap, path: str, workers: int):
    """SceneError where a map has more than MOST_CELLS cells."""
    rows, columns = survey.grid.shape
    if rows * columns > MOST_CELLS:
        raise SceneError(
            f"{path}: map.columns x map.rows = {rows * columns} cells would take about "
            f"{survey.hours(workers):.3g} hours with {workers} worker{'s' * (workers > 1)}; "
            f"expected at most {MOST_CELLS}"
        )
