"""A set of sounds to compare: scenes and their variants played, brought to one start, length and
loudness, measured beside the first, and written as one folder."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from lipmodel.errors import SceneError
from lipmodel.files import audio, folders, tables
from lipmodel.files.atomic import scratch
from lipmodel.files.long_arrays import HELD
from lipmodel.output.render import STAGES
from lipmodel.output.render import takes as takes_of
from lipmodel.scene.scene import Scene, Variant, read_scene, refuse_longer
from lipmodel.scene.variants import AS_WRITTEN, EITHER, changed
from lipmodel.sound import alignment
from lipmodel.sound.alignment import resampled
from lipmodel.studies import differences
from lipmodel.studies.blind_test import set_of
from lipmodel.studies.hold import hold_in_words, play_variants
from lipmodel.system.progress import telling
from lipmodel.system.versions import version
from lipmodel.units import cents

FEWEST, MOST = 2, 8  # more curves in one picture could not be told apart
HEARD = ("air", "notes", "instrument", "player", "source", "lips", "sound")  # tables of a scene
NOT_HEARD = (
    "loudness_lufs",
    "level",
    "also",
    "stereo",
    "length_s",
    "rate_hz",
)  # made alike, or no sound
ALIGNED = (
    "Every sound starts where its level first comes within 12 dB of the middle level of its first "
    "0.3 s; what one sound has more than the others at its end is cut off."
)


@dataclass(frozen=True)
class ComparedSound:
    """One sound of the set as `render` made it: its words, report, pressure at the listener (Pa)
    and pitch track (s, Hz), at the rate of the first."""

    name: str
    path: str
    variant: str
    changed: tuple[str, ...]
    adapted: tuple[str, ...]
    report: dict
    pressure: np.ndarray


def scenes_of(given) -> list[Scene]:
    """Scenes as they are, and those of files; SceneError for a file that is given twice."""
    places = [Path(g).resolve() for g in given if not isinstance(g, Scene)]
    for number, place in enumerate(places):
        if place in places[:number]:
            again = [g for g in given if not isinstance(g, Scene)][number]
            raise SceneError(f"{again}: given twice; expected different scenes")
    return [g if isinstance(g, Scene) else read_scene(g) for g in given]


def variants_of(scenes) -> list[tuple[Variant, int]]:
    """All variants of the scenes, ready to be heard beside each other, with the number of their
    scene; SceneError where there are too few or too many."""
    members = []
    for number, scene in enumerate(scenes):
        variants = scene.variants
        for variant in variants:
            scene = variant.scene
            refuse_longer(scene, HELD / scene.sound.rate_hz, "a comparison")
        members += [(_plain(v), number) for v in variants]
    if not FEWEST <= len(members) <= MOST:
        few = "expected a scene with a [[variant]], or two scenes"
        many = f"expected {FEWEST} to {MOST}, scenes and variants together"
        count = f"{len(members)} sound{'s' * (len(members) > 1)}"
        wanted = few if len(members) == 1 else many
        raise SceneError(f"{scenes[0].path}: {count} to compare: {wanted}")
    return members


def _plain(variant: Variant) -> Variant:
    """The variant as one sound, without further pictures and files."""
    plain = {"sound.level": "matched", "sound.also": None, "sound.stereo": None}
    plain |= {"show": None, "variant": None}
    return replace(variant, scene=variant.scene.replace(plain))


def progress_steps(given) -> int:
    """Stages of progress that `compare` tells of."""
    return (STAGES + 1) * len(variants_of(scenes_of(given))) + 1


def compare(given, hold=None, writer=None, progress=None) -> dict:
    """The set as numbers and sounds: {"document": compare.json, "sounds": arrays, "curves"}.

    given: scenes, or paths of their files; `hold` as in `play_variants`, `writer` and `progress`
    as in `render.takes`.  Raises SceneError and SimulationError.
    """
    progress, scenes = telling(progress), scenes_of(given)
    variants = variants_of(scenes)
    names = _names(variants)
    takes = _played(variants, names, hold, writer, progress)
    progress.step("loudness")
    rate = takes[0].report["rate_hz"]
    asked = takes[0].report["inputs"]["sound"]["loudness_lufs"]
    try:
        even = alignment.align([t.pressure for t in takes], rate, asked)
    except ValueError as error:
        take = takes[error.args[0]]
        raise SceneError(f"{take.path}: {take.name}: nothing sounds: nothing to compare") from error
    curves = differences.curves([t.report for t in takes], even, rate)
    sounds = [audio.sound_bytes(e.samples, rate) for e in even]
    rows = [
        _row(*given, (even[0], curves[0]))
        for given in zip(takes, even, sounds, curves, strict=True)
    ]
    _refuse_alike(scenes, rows)
    for n, row in enumerate(rows, 1):
        row["file"] = f"sound.{n}.wav"
        row["differs"] = differences.differences(row, rows[0]) if n > 1 else []
    document = {
        "title": takes[0].report["title"], "version": version(),
        "scenes": [str(s.path) for s in scenes],
        "hold": None if any(v.scene.source for v, _ in variants) else hold or "lips",
        "held": hold_in_words([v for v, _ in variants], hold),
        "loudness_lufs": even[0].lufs, "asked_lufs": asked,
        "limited": [t.name for t, e in zip(takes, even, strict=True) if e.limited],
        "rate_hz": rate, "length_s": len(even[0].samples) / rate, "alignment": ALIGNED,
        "seed": takes[0].report["inputs"]["sound"]["seed"],
        "set": set_of([rows[n]["sha256"] for n in distinct(rows)]),
        "listen_for": takes[0].report["inputs"].get("listen_for", ""), "sounds": rows,
    }  # fmt: skip
    document["sentences"] = differences.sentences(document)
    return {"document": document, "samples": [e.samples for e in even], "wav": sounds,
            "curves": curves}  # fmt: skip


def _names(variants) -> list[str]:
    """What each sound is called: the variant, with its scene where there are several."""
    several = len({number for _, number in variants}) > 1
    names = []
    for variant, _ in variants:
        scene, name = variant.scene, variant.name
        if several:
            title = scene.title or Path(scene.path).stem
            name = title if name == AS_WRITTEN else f"{title}: {name}"
        for other in (f"{name} ({Path(scene.path).name})", f"{name} {len(names) + 1}"):
            name = other if name in names else name
        names.append(name)
    return names


def _played(variants, names, hold, writer, progress) -> list[ComparedSound]:
    takes, first = [], variants[0][0]
    only = [variant for variant, _ in variants]
    with scratch() as folder:
        for number, played in enumerate(_telling(play_variants(only, hold), names, progress.step)):
            variant = played.variant
            cast = [(variant, played.performance)]
            (take,) = takes_of(
                variant.scene.path, folder, cast=cast, writer=writer, progress=progress
            )
            pressure = take.trace("radiated_pressure_pa")
            rate = takes[0].report["rate_hz"] if takes else take.report["rate_hz"]
            pressure = resampled(pressure, take.report["rate_hz"], rate)
            takes.append(
                ComparedSound(
                    names[number], variant.scene.path, variant.name,
                    _changed(first, only[number], variants[number][1]),
                    played.adapted, take.report, pressure,
                )
            )  # fmt: skip
    return takes


def _telling(takes, names, step):
    """`takes` as they come, each announced before it is played."""
    for name in names:
        step(f"{name}: lips and breath")
        yield next(takes)


def _changed(first: Variant, variant: Variant, number: int) -> tuple[str, ...]:
    """What is different from the first sound, in its inputs."""
    if variant is first:
        return ()
    if number == 0:
        return variant.changed
    before, after = (_heard(v.scene.inputs()) for v in (first, variant))
    changes = changed(before, after, _told_of(before, after))
    if first.scene.spec() != variant.scene.spec() and not any("instrument" in t for t in changes):
        changes += ("instrument.bore: another file of the same name",)
    return changes


def _heard(inputs: dict) -> dict:
    kept = {k: inputs[k] for k in HEARD}
    kept["sound"] = {k: v for k, v in kept["sound"].items() if k not in NOT_HEARD}
    return kept


def _told_of(before: dict, after: dict, table: str = "") -> dict:
    """The keys of `after` to tell of: those that are set, and those set only before whose place no
    other key has taken."""
    kept = {}
    for key, value in after.items():
        rivals = {k for group in EITHER.get(table, ()) if key in group for k in group}
        taken = any(after.get(k) is not None for k in rivals)
        if isinstance(value, dict):
            kept[key] = _told_of(before.get(key) or {}, value, key)
        elif value is not None or (before.get(key) is not None and not taken):
            kept[key] = value
    return kept


def _refuse_alike(scenes, rows):
    if len({row["sha256"] for row in rows}) < 2:
        raise SceneError(
            f"{scenes[0].path}: all sounds are the same once they are equally loud: expected a "
            "change that can be heard"
        )


def _row(take: ComparedSound, even, wav: bytes, curves: dict, first) -> dict:
    """One sound of compare.json; `first`: the same of the first sound."""
    heard = curves["frequency_hz"] and first[1]["frequency_hz"]
    off = cents(curves["frequency_hz"], first[1]["frequency_hz"]) if heard else None
    notes = [] if take.report.get("source") else take.report["notes"]
    notes = [n for n in notes if n["frequency_hz"]]
    return {
        "name": take.name, "scene": Path(take.path).name, "variant": take.variant,
        "changed": list(take.changed), "adapted": list(take.adapted),
        "sha256": tables.digest(wav),
        "gain_db": even.gain_db, "taken_db": first[0].gain_db - even.gain_db,
        "lufs": even.lufs, "true_peak_dbtp": even.true_peak_dbtp, "onset_s": even.onset,
        "played": [n[take.report["inputs"]["notes"]["read_as"]] for n in notes],
        **{k: curves[k] for k in ("moment_s", "frequency_hz", "centroid_hz", "harmonics_db")},
        "cents_from_first": off,
        "laf_max_db": take.report["level"]["laf_max_db"],
        "sentences": take.report["sentences"], "inputs": take.report["inputs"],
    }  # fmt: skip


def distinct(rows) -> list[int]:
    """Numbers of the sounds that no sound before them is the same as."""
    sums = [row["sha256"] for row in rows]
    return [n for n, known in enumerate(sums) if known not in sums[:n]]


def write(made: dict, target: Path):
    """The folder: pages, picture, compare.json and the sounds; complete or absent."""
    from lipmodel.output.pages.blind.page import blind_page
    from lipmodel.output.pages.compare import compare_page
    from lipmodel.output.pictures.compare import compare_figure
    from lipmodel.output.pictures.image_file import figure_bytes

    document, rows = made["document"], made["document"]["sounds"]
    flac = [audio.sound_bytes(s, document["rate_hz"], "flac24") for s in made["samples"]]
    figure = compare_figure(document["title"], [row["name"] for row in rows], made["curves"])
    picture = figure_bytes(figure, "png")
    blind = distinct(rows)
    apart = {**document, "sounds": [rows[n] for n in blind]}
    pages = {
        "picture.png": picture,
        "listen.html": compare_page(document, flac, picture).encode(),
        "blind.html": blind_page(apart, [flac[n] for n in blind]).encode(),
        "compare.json": tables.json_text(document).encode(),
    }
    sounds = zip((row["file"] for row in rows), made["wav"], strict=True)
    with folders.folder_written(target) as work:
        for name, data in (*pages.items(), *sounds):
            (work / name).write_bytes(data)
