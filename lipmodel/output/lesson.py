"""A lesson from end to end: its scenes played, its map walked, one page written."""

import io
import json
import re
from pathlib import Path

import numpy as np

from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.errors import LipmodelError, SceneError
from lipmodel.files import audio, tables
from lipmodel.files.atomic import scratch
from lipmodel.files.toml import load
from lipmodel.output.pages.lesson.page import lesson_page
from lipmodel.output.pictures.image_file import lighter
from lipmodel.output.render import STAGES, Take, takes
from lipmodel.player.fingering import usual
from lipmodel.scene.lesson import Lesson, is_lesson, read_lesson
from lipmodel.scene.scene import read_scene, refuse_longer
from lipmodel.scene.variants import AS_WRITTEN
from lipmodel.sound.alignment import resampled
from lipmodel.studies.map_sounds import map_with_sounds
from lipmodel.system.cluster import size
from lipmodel.system.progress import telling
from lipmodel.units import parse_note

PICTURES = (
    "bores",
    "pair",
    "pedal",
    "mirror",
    "field",
    "echo",
    "energy",
    "dynamics",
    "directivity",
    "steadiness",
)
WORDS = ("ask", "answer", "reason", "listen_for")  # of a scene
SLOTS = range(2, 9)  # resonances with a place on the staff
MOST_ON_STAFF = 12
NO_WAY = "–"  # a note that no usual fingering has
POINTS = 600  # of a curve on the page
LARGEST = 5_000_000  # bytes of a page that goes home by mail
SOUND_RATES = (22_050, 24_000, 32_000, 44_100, 48_000)  # Hz, of MP3 and of scenes
LONGEST = 300.0  # s of sound that are held in memory
SOUND_RATE = 48_000


def lesson_of(paths) -> Lesson:
    """The lesson of these files: a lesson's sections, and scenes as they come; SceneError."""
    title, intros, sections = "", [], []
    for path in paths:
        if not is_lesson(load(path)):
            sections.append((Path(path),))
            continue
        lesson = read_lesson(path)
        title = title or lesson.title
        intros += [lesson.intro] if lesson.intro else []
        sections += lesson.sections
    return Lesson(title, "\n\n".join(intros), tuple(sections))


def progress_steps(lesson: Lesson) -> int:
    """Stages that `make_lesson` tells of; a broken scene has none."""
    total = 0
    for path in lesson.scenes:
        try:
            scene = read_scene(path)
        except LipmodelError:
            continue
        total += STAGES * len(scene.variants) + _has_map(scene)
    return total


def make_lesson(lesson: Lesson, writer=None, how=1, progress=None) -> tuple[str, list[str]]:
    """The page as HTML, and what failed, in sentences.

    `writer` and `progress` as in `render.takes`, `how` as in `run_many`.  A scene that fails has
    a section that says so; SceneError where nothing could be played at all.
    """
    progress = telling(progress)
    size(how)  # a wrong number of workers is told before anything is played
    sections = []
    for number, paths in enumerate(lesson.sections, 1):
        names = " with ".join(path.stem for path in paths)
        progress.say(f"Section {number} of {len(lesson.sections)}: {names}")
        sections.append(_section(paths, writer, how, progress))
    failed = [problem for section in sections for problem in section["failed"]]
    if failed and not any(s["takes"] or s["map"] for s in sections):
        raise SceneError(failed)
    title = lesson.title or sections[0]["title"]
    document = {"title": title, "intro": lesson.intro, "sections": sections}
    page = lesson_page(document)
    if len(page) > LARGEST:
        page = _lighter(document, progress)
    return page, failed


def _lighter(document: dict, progress) -> str:
    """The page without the whole picture of each take, which says what its curve says."""
    for section in document["sections"]:
        section["takes"] = [{**take, "picture": b""} for take in section["takes"]]
    page = lesson_page(document)
    progress.say(
        f"left out the whole pictures: the page still has {len(page) / 1e6:.1f} MB; fewer scenes "
        "or shorter sounds would make it easier to send home"
        if len(page) > LARGEST
        else "left out the whole pictures, to keep the page small enough to send home"
    )
    return page


def _has_map(scene) -> bool:
    return "map" in scene.model_fields_set and scene.player is not None


def _section(paths, writer, how, progress) -> dict:
    """One section: its scene, or those that are compared; the words are the first one's."""
    section = {"title": paths[0].stem, **dict.fromkeys(WORDS, ""), "takes": []}
    section |= {
        "choices": (),
        "right": None,
        "map": None,
        "staff": [],
        "staff_of": "",
        "failed": [],
    }
    for number, path in enumerate(paths):
        try:
            scene = read_scene(path)
            for variant in scene.variants:
                refuse_longer(variant.scene, LONGEST, "a lesson")
        except LipmodelError as error:
            section["failed"] += str(error).splitlines()
            continue
        if number == 0:
            section |= {k: getattr(scene, k) for k in (*WORDS, "choices", "right")}
            section["title"] = scene.title or path.stem
        leading = [scene.title or path.stem] if len(paths) > 1 else []
        _play(section, path, scene, leading, writer, progress)
        if _has_map(scene) and not section["map"]:
            _walk(section, path, scene, how, progress)
    return section


def _play(section, path, scene, leading, writer, progress):
    """The takes of one scene, named by what tells them apart, and their notes for a staff."""
    with scratch() as folder:
        try:
            for take in takes(path, folder, waves=True, writer=writer, progress=progress):
                variant = take.report["variant"]
                whole = leading or _tube_names(scene)
                alone = whole and variant == AS_WRITTEN
                name = whole[0] if alone else ": ".join([*leading, variant])
                section["takes"].append(read_take(take) | {"name": name})
                if not section["staff"]:
                    section["staff"] = staff_notes(scene, take.report)
                    section["staff_of"] = "".join(leading)
        except LipmodelError as error:
            section["failed"] += str(error).splitlines()


def _tube_names(scene) -> list[str]:
    """What a scene as written is called beside variants that are blown on something else."""
    tubes = [variant.scene.instrument for variant in scene.variants]
    differ = any(tube != tubes[0] for tube in tubes)
    return [tubes[0].name.replace("_", " ")] if differ and tubes[0].name else []


def _walk(section, path, scene, how, progress):
    progress.step(f"{path.stem}: map")
    try:
        section["map"] = map_with_sounds(scene, how, lambda *n: progress.part(*n, "map"))
        section["map"]["first"] = scene.notes.read_as
    except LipmodelError as error:
        section["failed"] += str(error).splitlines()


def staff_notes(scene, report: dict) -> list[tuple[str, str]]:
    """The notes that a scene plays, else the slots of its tube: (name, usual fingering) each;
    none without a player."""
    if scene.player is None:
        return []
    spec, first = scene.spec(), scene.notes.read_as
    slots = [r for r in report["resonances"] if r["n"] in SLOTS]
    rows = [n for n in report["notes"] if n["written"]] if scene.player.notes else slots
    named = {row[first]: row["sounding"] for row in rows if row[first]}
    return [(name, _held(spec, sounding)) for name, sounding in named.items()][:MOST_ON_STAFF]


def _held(spec, sounding: str) -> str:
    """The usual fingering or slide position, nothing for a tube without valves or slide."""
    slide = has_mark(spec, "slide")
    if not slide and not valve_numbers(spec):
        return ""
    way = usual(spec, parse_note(sounding))
    if way is None:
        return NO_WAY
    return f"{way.slide_position:g}" if slide else "-".join(way.valves)


def read_take(take: Take) -> dict:
    """What a page needs of a take: report, sound (MP3), picture and further pictures (PNG),
    waves (of each note, as in waves.json) and the curves to draw."""
    sentences = [re.sub(r" \(\w+\.png\)", "", s) for s in take.report["sentences"]]
    report = json.loads(tables.json_text({**take.report, "sentences": sentences}))
    heard, rate = audio.read_channels(io.BytesIO(take.file("sound.wav")))
    if rate not in SOUND_RATES:
        channels = [resampled(one, rate, SOUND_RATE) for one in heard.T]
        heard, rate = np.column_stack(channels), SOUND_RATE
    samples = heard[:, 0]
    waves, pictures = take.file("waves.json"), {n: take.file(f"{n}.png") for n in PICTURES}
    return {
        "report": report,
        "sound": audio.sound_bytes(heard, rate, "mp3"),
        "picture": lighter(take.file("picture.png")),
        "more": {name: lighter(picture) for name, picture in pictures.items() if picture},
        "waves": json.loads(waves) if waves else [],
        "curves": _curves(take, report, samples, rate),
    }


def _curves(take: Take, report, samples, rate) -> dict:
    """Pitch and lip setting against time where there is a pitch, else how loud it is."""
    length = report["length_s"]
    track = report["pitch"]
    if report.get("source") or not any(track["frequency_hz"]):
        return {"kind": "level", "length_s": length, **_level(samples, rate)}
    every = max(1, len(track["time_s"]) // POINTS)
    setting = take.trace("tension_hz")
    known = report["rate_hz"]
    times = track["time_s"][::every]
    at = np.minimum((np.array(times) * known).astype(int), len(setting) - 1)
    return {
        "kind": "pitch",
        "length_s": length,
        "time_s": times,
        "frequency_hz": track["frequency_hz"][::every],
        "setting_hz": np.round(setting[at], 1).tolist(),
    }


def _level(samples, rate) -> dict:
    """Level in dB under the loudest moment, in POINTS steps."""
    pieces = np.array_split(np.asarray(samples), POINTS)
    rms = np.array([np.sqrt(np.mean(p**2)) if len(p) else 0.0 for p in pieces])
    top = max(float(rms.max()), 1e-9)
    level = 20 * np.log10(np.maximum(rms / top, 1e-3))
    times = (np.arange(POINTS) + 0.5) * len(samples) / rate / POINTS
    return {"time_s": np.round(times, 3).tolist(), "level_db": np.round(level, 1).tolist()}
