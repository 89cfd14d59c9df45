"""What a run has in it, as results: `lipmodel.notes`, `energy`, `standing_wave`, `dynamics` and
`pair`."""

from functools import lru_cache

from lipmodel.errors import SceneError
from lipmodel.output.results.arguments import check_run
from lipmodel.output.results.result import Record, Result, title_of
from lipmodel.player import note_names
from lipmodel.player.run import Run
from lipmodel.player.tubing import held_bore
from lipmodel.studies import dynamics as soft_to_loud
from lipmodel.studies import energy as budget
from lipmodel.studies import field as standing
from lipmodel.studies import pair as portraits
from lipmodel.studies.notes import Notes


class Note(Record):
    """A note of a run with the keys of `notes` in report.json: `written`, `sounding`, `cents`,
    `lock`, `state`, `frequency_hz`, `energy` and more."""

    __slots__ = ()


class _OfRun(Result):
    __slots__ = ("found", "run")


class TakeEnergy(_OfRun):
    """The energy books of the whole run (J and W), and of each steady note under `notes`."""


class StandingWave(_OfRun):
    """`partials`: sizes of pressure and flow over `x_m`, their nodes; `played`."""


class Dynamics(_OfRun):
    """`rows`: level, centroid and harmonics against mouth pressure (kPa); `markings_kpa`."""


class Pair(_OfRun):
    """`first` and `other`: lock, level, centroid, alignment of harmonics with resonances."""


def notes(run: Run) -> tuple[Note, ...]:
    """The notes of a run, measured: pitch, partial, lock, state, cents and energy.

    run: from `simulate`.  Raises TypeError, and SceneError where nobody plays.

    >>> note, = notes(run)  # doctest: +SKIP
    >>> note.written, note.lock, note.energy.radiated_share  # doctest: +SKIP
    """
    return tuple(Note(row) for row in _rows(run, "notes"))


def energy(run: Run) -> TakeEnergy:
    """Where the blown power of a run went: jet, lips, walls and sound.

    run: from `simulate`.  Raises TypeError and SceneError.

    >>> found = energy(run)  # doctest: +SKIP
    >>> found.radiated_w / found.into_bore_w, found.residual  # doctest: +SKIP
    """
    rows = _rows(run, "energy")
    books = budget.energy_rows(run.performance)
    document = books | {"notes": [{**row["energy"], "written": row["written"]}
                                  for row in rows if row["energy"]]}  # fmt: skip
    into = books["into_bore_j"]
    share = 100 * books["radiated_j"] / into if into > 0 else 0.0
    told = [f"Of {books['blown_j']:.3g} J blown, {into:.3g} J entered the bore and {share:.2g} % "
            "of that left it as sound."]  # fmt: skip
    return _of(TakeEnergy, run, document, _energy_drawn, told, {"notes": rows})


def standing_wave(run: Run) -> StandingWave:
    """The standing wave of the first steady note of a run, and of the partials beside it.

    run: from `simulate`.  Raises TypeError, and SceneError where no note is steady.

    >>> found = standing_wave(run)  # doctest: +SKIP
    >>> found.partials[0].pressure_nodes_m, found.sentences[0]  # doctest: +SKIP
    """
    found = standing.field_of_run(run.performance, _rows(run, "standing_wave"))
    return _found(StandingWave, run, found, _field_drawn, "standing_wave: no note is steady")


def dynamics(run: Run) -> Dynamics:
    """A run from soft to loud: level, centroid and harmonics against mouth pressure.

    run: from `simulate`.  Raises TypeError, and SceneError where fewer than two moments sound.

    >>> found = dynamics(run)  # doctest: +SKIP
    >>> found.rows[0].heard.level_db, found.sentences[0]  # doctest: +SKIP
    """
    _rows(run, "dynamics")
    found = soft_to_loud.dynamics(run.performance)
    return _found(Dynamics, run, found, _dynamics_drawn, "dynamics: too little of it sounds")


def pair(run: Run, other: Run) -> Pair:
    """The first notes of two runs of one pitch, held in different ways, side by side.

    run, other: from `simulate`.  Raises TypeError, and SceneError where either has no steady
    note.

    >>> found = pair(locked, bent)  # doctest: +SKIP
    >>> found.level_difference_db, found.sentences[0]  # doctest: +SKIP
    """
    both = []
    for one in (run, other):
        rows = _rows(one, "pair")
        both.append(portraits.portrait(one.performance, rows[0]) if rows else None)
    if None in both:
        raise SceneError("pair: expected two runs of notes that sound steadily")
    told = portraits.caption(*both)
    return _of(Pair, run, portraits.numbers(*both), _pair_drawn, [told], (both, other))


@lru_cache(maxsize=4)
def _measured(run: Run) -> list[dict]:
    performance, built = run.performance, run.performance.built
    rows = note_names.resonance_rows(built)
    held = lru_cache(lambda *how: note_names.resonance_rows(built, held_bore(built, *how)))
    return Notes(performance, rows, held).rows()


def _rows(run: Run, function: str) -> list[dict]:
    """Rows as in report.json, measured once a run."""
    check_run(function, run)
    if run.scene is None or run.scene.source:
        raise SceneError(f"{function}: expected a run of a scene with a [player]")
    return _measured(run)


def _found(kind, run, found, draw, missing):
    if found is None:
        raise SceneError(missing)
    plain = {k: v for k, v in found.items() if k not in ("sentences", "animation")}
    return _of(kind, run, plain, draw, found["sentences"], found)


def _of(kind, run, document, draw, told, found):
    result = kind(document, draw, told)
    object.__setattr__(result, "run", run)
    object.__setattr__(result, "found", found)
    return result


def _energy_drawn(result):
    from lipmodel.output.pictures.energy import energy_figure

    scene = result.run.scene
    head = {"title": title_of(scene), "scene": title_of(scene), "inputs": scene.inputs()}
    return energy_figure(head | result.found)


def _field_drawn(result):
    from lipmodel.output.pictures.field import field_figure

    return field_figure(title_of(result.run.scene), result.found)


def _dynamics_drawn(result):
    from lipmodel.output.pictures.dynamics import dynamics_figure

    return dynamics_figure(title_of(result.run.scene), result.found)


def _pair_drawn(result):
    from lipmodel.output.pictures.pair import pair_figure

    both, other = result.found
    names = [title_of(one.scene) for one in (result.run, other)]
    return pair_figure(names[0], names, both, result.sentences[0])
