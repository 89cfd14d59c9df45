"""The map as JSON, CSV and sentences."""

import numpy as np

from lipmodel.studies import map_cells
from lipmodel.studies.map import NoteMap
from lipmodel.studies.map_mouth import led_sentences
from lipmodel.units import KPA

STATES = ("locked", "bent", "free", "unsteady", "silent")
HELD, STEADY = STATES[:2], STATES[:3]


def _listed(table) -> list[list[float | None]]:
    return [[float(v) if np.isfinite(v) else None for v in row] for row in table]


def table_csv(document: dict) -> str:
    """One row a cell; empty where there is no figure."""
    names = ("frequency_hz", "partial", "lock", "state", "rms_pa")
    places = [name for name in ("pressure_kpa", "mouth_hz") if name in document]
    lines = [",".join(("tension_hz", *places, *names))]
    for r in range(len(document["pressure_kpa"])):
        place = [document[name][r] for name in places]
        for c, tension in enumerate(document["tension_hz"]):
            values = [document[name][r][c] for name in names]
            lines.append(",".join(map(_field, (tension, *place, *values))))
    return "\n".join(lines) + "\n"


def _field(value) -> str:
    if value is None:
        return ""
    return f"{value:.8g}" if isinstance(value, float) else str(value)


def document(survey: NoteMap) -> dict:
    """The map as map.json holds it; None where nothing sounds or a cell was lost.

    mouth_hz, of each row, is there where rows are resonances of the mouth; pressure_kpa is then
    the same in all.
    """
    frequency, lock, rms, sounding = np.moveaxis(survey.cells, 2, 0)
    partial = map_cells.partials(frequency, survey.resonances)
    state = [
        map_cells.states(survey.grid.tension, *row)
        for row in zip(frequency, lock, partial, sounding, strict=True)
    ]
    lost = np.isnan(sounding)
    grid = survey.grid
    led = {} if grid.mouth_hz is None else {"mouth_hz": grid.mouth_hz.tolist()}
    return {
        "tension_hz": survey.grid.tension.tolist(),
        "pressure_kpa": survey.grid.pressure_kpa.tolist(),
        **led,
        "frequency_hz": _listed(frequency),
        "partial": [[int(n) or None for n in row] for row in partial],
        "lock": _listed(lock),
        "state": [
            [None if gone else str(s) for s, gone in zip(*row, strict=True)]
            for row in zip(state, lost, strict=True)
        ],
        "rms_pa": _listed(rms),
        "threshold": _threshold_rows(survey),
        "seconds": survey.seconds,
        "workers": survey.workers,
        "lost": sorted(set(survey.problems.values())),
    }


def _threshold_rows(survey):
    return [
        {
            "partial": n,
            "tension_hz": float(tension),
            "pressure_kpa": float(pressure) / KPA,
            "frequency_hz": float(frequency),
        }
        for (n, tension), (pressure, frequency) in zip(
            survey.softest, survey.thresholds, strict=True
        )
        if np.isfinite(pressure)
    ]


def map_sentences(document: dict, rows, first) -> list[str]:
    """What a teacher wants to know first."""
    names = {r["n"]: f"{r['n']} {r[first]}" for r in rows}
    if "mouth_hz" in document:
        sentences = led_sentences(document, names, first)
    else:
        sentences = [_sounded(document, names, first)]
    flat = [state for row in document["state"] for state in row]
    counts = [f"{flat.count(state)} {state}" for state in STATES if state in flat]
    workers = document["workers"]
    sentences.append(
        f"{len(flat)} cells ({', '.join(counts)}) in {document['seconds']:.0f} s with "
        f"{workers} worker{'s' * (workers > 1)}."
    )
    if document["lost"]:
        missing = f"{flat.count(None)} cells are" if None in flat else "Part of the theory is"
        sentences.append(
            f"{missing} missing ({'; '.join(document['lost'])}): the same command tries them again."
        )
    return sentences


def _sounded(document: dict, names: dict, first) -> str:
    lowest: dict[int, float] = {}
    sounding = []
    tables = (document[name] for name in ("pressure_kpa", "partial", "state"))
    for pressure, partials, states in zip(*tables, strict=True):
        sounding += [pressure] * any(state in STEADY for state in states)
        for n, state in zip(partials, states, strict=True):
            if n and state in HELD:
                lowest.setdefault(n, pressure)
    low, high = document["tension_hz"][0], document["tension_hz"][-1]
    soft, loud = document["pressure_kpa"][0], document["pressure_kpa"][-1]
    where = f"lips set to {low:.0f} to {high:.0f} Hz, {soft:g} to {loud:g} kPa"
    if not sounding:
        return f"Nothing sounded a note anywhere ({where}); blow harder or set the lips lower."
    if not lowest:
        return f"From {sounding[0]:.1f} kPa the pitch only glides with the lips ({where})."
    each = [f"{names[n]} from {lowest[n]:.1f} kPa" for n in sorted(lowest)]
    return f"Partials that sounded ({first} notes, softest breath): {', '.join(each)}."
