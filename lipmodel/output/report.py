"""report.json of one take: numbers and sentences, as one dict."""

from functools import lru_cache
from pathlib import Path

from lipmodel.output import report_rows, source_report
from lipmodel.output.mouth import mouth_row
from lipmodel.output.report_types import TakeReport
from lipmodel.output.room import room_row
from lipmodel.output.steadiness import steadiness_row
from lipmodel.player import note_names
from lipmodel.player.build import Built, shift
from lipmodel.player.tubing import held_bore
from lipmodel.studies import energy
from lipmodel.studies.heard import octaves_off
from lipmodel.studies.notes import Notes, jumps_of
from lipmodel.studies.steadiness import told_apart
from lipmodel.system.versions import version, versions

HEARD_ONLY = {  # keys that change how a sound is heard or stored, not how it is played
    f"sound.{key}"
    for key in (
        "steepening",
        "distance_m",
        "angle_deg",
        "place",
        "floor",
        "room",
        "bell_height_m",
        "stereo",
        "level",
        "loudness_lufs",
        "also",
    )
}


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
        "changed": [*variant.changed, *_followed(variant)],
    }
    if scene.source:
        return head | source_report.rows(performance) | {"room": room_row(performance)}
    resonances = note_names.resonance_rows(built)
    held = lru_cache(lambda *how: note_names.resonance_rows(built, held_bore(built, *how)))
    notes = Notes(performance, resonances, held)
    rows = notes.rows()
    swept = scene.player.tension_hz is not None
    jumps = jumps_of(rows, notes) if swept else []
    return head | {
        "air": report_rows.air_row(built),
        "resonances": resonances,
        "slide": report_rows.slide_rows(performance),
        "pitch": report_rows.pitch_rows(notes.times, notes.track),
        "notes": told_apart(performance, rows),
        "steadiness": steadiness_row(scene),
        "heard": octaves_off(notes.times, notes.track, performance.radiated_pressure, built.rate),
        "energy": energy.energy_rows(performance),
        "steepening": report_rows.steepening_row(performance),
        "room": room_row(performance),
        "mouth": mouth_row(built, jumps),
        "jumps": jumps,
    }


def _followed(variant) -> list[str]:
    """What follows from what was changed must be told as well: lips and breath of notes, the
    player of another instrument, the length."""
    scene, base = variant.scene, variant.base
    if not variant.changed or base is None:
        return []
    told, player = [], scene.player
    keys = {words.split(":")[0] for words in variant.changed}
    if player and base.player:
        before, after = base.spec().player, scene.spec().player
        other_lips, other_key = before != after, shift(base) != shift(scene)
        if other_lips:
            told.append(f"the player, who goes with the instrument: {before} lips -> {after} lips")
        if player.tension_hz is None and not all(k in HEARD_ONLY for k in keys):
            told.append("the lips, set anew so that every note is in tune")
            other_notes = other_key or any(
                k.startswith(("note ", "player.tune", "player.phrase", "notes.")) for k in keys
            )
            if player.pressure_kpa is None and (other_notes or other_lips):
                told.append("the breath, which goes with the note")
    length, now = base.sound.length_s, scene.sound.length_s
    if length != now and "sound.length_s" not in keys:
        told.append(f"the length, which goes with what is played: {length:.4g} -> {now:.4g} s")
    return told
