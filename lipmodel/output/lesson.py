"""A lesson from end to end: its scenes played, its map walked, one page written."""

import io
import json
import re
from pathlib import Path

import numpy as np

from lipmodel.errors import LipmodelError, SceneError
from lipmodel.files import audio, tables
from lipmodel.files.atomic import scratch
from lipmodel.files.toml import load
from lipmodel.output.pages.lesson.page import lesson_page
from lipmodel.output.pictures.image_file import lighter
from lipmodel.output.render import STAGES, Take, takes
from lipmodel.scene.lesson import Lesson, is_lesson, read_lesson
from lipmodel.scene.scene import read_scene, refuse_longer
from lipmodel.sound.alignment import resampled
from lipmodel.studies.map_sounds import map_with_sounds
from lipmodel.system.cluster import size
from lipmodel.system.progress import telling

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
POINTS = 600  # of a curve on the page
LARGEST = 8_000_000  # bytes of a page that goes home by mail
SOUND_RATES = (22_050, 24_000, 32_000, 44_100, 48_000)  # Hz, of MP3 and of scenes
LONGEST = 300.0  # s of sound that are held in memory
SOUND_RATE = 48_000


def lesson_of(paths) -> Lesson:
    """The lesson of these files: a lesson's scenes, and scenes as they come; SceneError."""
    title, intros, scenes = "", [], []
    for path in paths:
        if not is_lesson(load(path)):
            scenes.append(Path(path))
            continue
        lesson = read_lesson(path)
        title = title or lesson.title
        intros += [lesson.intro] if lesson.intro else []
        scenes += lesson.scenes
    return Lesson(title, "\n\n".join(intros), tuple(scenes))


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
    sections = [_section(path, writer, how, progress) for path in lesson.scenes]
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


def _section(path: Path, writer, how, progress) -> dict:
    section = {"title": path.stem, "ask": "", "answer": "", "listen_for": "", "takes": []}
    section |= {"map": None, "failed": []}
    try:
        scene = read_scene(path)
        for variant in scene.variants:
            refuse_longer(variant.scene, LONGEST, "a lesson")
    except LipmodelError as error:
        section["failed"] += str(error).splitlines()
        return section
    section |= {k: getattr(scene, k) for k in ("ask", "answer", "listen_for")}
    section["title"] = scene.title or path.stem
    with scratch() as folder:
        try:
            played = takes(path, folder, field=True, writer=writer, progress=progress)
            for take in played:
                section["takes"].append(read_take(take))
        except LipmodelError as error:
            section["failed"] += str(error).splitlines()
    if _has_map(scene):
        progress.step(f"{path.stem}: map")
        try:
            section["map"] = map_with_sounds(scene, how, lambda *n: progress.part(*n, "map"))
            section["map"]["first"] = scene.notes.read_as
        except LipmodelError as error:
            section["failed"] += str(error).splitlines()
    return section


def read_take(take: Take) -> dict:
    """What a page needs of a take: report, sound (MP3), picture and further pictures (PNG),
    animation (the dict of field.json, or None) and the curves to draw."""
    sentences = [re.sub(r" \(\w+\.png\)", "", s) for s in take.report["sentences"]]
    report = json.loads(tables.json_text({**take.report, "sentences": sentences}))
    heard, rate = audio.read_channels(io.BytesIO(take.file("sound.wav")))
    if rate not in SOUND_RATES:
        channels = [resampled(one, rate, SOUND_RATE) for one in heard.T]
        heard, rate = np.column_stack(channels), SOUND_RATE
    samples = heard[:, 0]
    field, more = take.file("field.json"), {}
    # the animation says the same: its picture comes where the scene asks for it
    asked = report["inputs"].get("show", {}).get("field")
    for name in PICTURES:
        picture = take.file(f"{name}.png")
        if picture and (name != "field" or asked):
            more[name] = lighter(picture)
    return {
        "report": report,
        "sound": audio.sound_bytes(heard, rate, "mp3"),
        "picture": lighter(take.file("picture.png")),
        "more": more,
        "animation": json.loads(field) if field else None,
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
