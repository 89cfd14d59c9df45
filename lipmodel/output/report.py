"""report.json of one take: numbers and sentences, as one dict."""

from functools import lru_cache
from pathlib import Path

from lipmodel.output import report_rows, source_report
from lipmodel.output.report_types import TakeReport
from lipmodel.player import note_names
from lipmodel.player.build import Built
from lipmodel.player.tubing import held_bore
from lipmodel.studies import energy
from lipmodel.studies.heard import octave_low
from lipmodel.studies.notes import Notes, jumps_of
from lipmodel.system.versions import version, versions


def take_report(variant, built: Built, performance) -> TakeReport:
    """The report but for timing, level, sentences and sha256."""
    scene = variant.scene
    head = {
        "scene": Path(scene.path).name,
        "variant": variant.name,
        "title": scene.title or Path(scene.path).stem,
        "version": version(),
        "made_with": dict(versions()),
        "rate_hz": built.rate,
        "length_s": scene.sound.length_s,
        "inputs": scene.inputs(),
        "bore": built.spec.tables(),
        "changed": [*variant.changed, *_lips_too(variant)],
    }
    if scene.source:
        return head | source_report.rows(performance)
    resonances = note_names.resonance_rows(built)
    held = lru_cache(lambda *how: note_names.resonance_rows(built, held_bore(built, *how)))
    notes = Notes(performance, resonances, held)
    rows = notes.rows()
    swept = scene.player.tension_hz is not None
    return head | {
        "air": report_rows.air_row(built),
        "resonances": resonances,
        "slide": report_rows.slide_rows(performance),
        "pitch": report_rows.pitch_rows(notes.times, notes.track),
        "notes": rows,
        "heard": octave_low(notes.times, notes.track, performance.radiated_pressure, built.rate),
        "energy": energy.energy_rows(performance),
        "steepening": report_rows.steepening_row(performance),
        "jumps": jumps_of(rows, notes) if swept else [],
    }


def _lips_too(variant) -> list[str]:
    """In a scene of notes lips and breath follow what was changed: that must be told as well."""
    player = variant.scene.player
    if not variant.changed or player is None or player.tension_hz is not None:
        return []
    told = ["the lips, set anew so that every note is in tune"]
    keys = {words.split(":")[0] for words in variant.changed}
    other_notes = any(k == "player.tune" or k.startswith(("note ", "player.phrase")) for k in keys)
    if other_notes and player.pressure_kpa is None:
        told.append("the breath, which goes with the note")
    return told
