"""lipmodel check"""

import sys

from lipmodel.bore import assembly
from lipmodel.bore.bore_file import read_bore_file
from lipmodel.errors import LipmodelError
from lipmodel.files import toml
from lipmodel.player.build import scene_bore
from lipmodel.player.unplayable import unplayable
from lipmodel.scene.lesson import is_lesson, read_lesson
from lipmodel.scene.scene import read_scene


def run(args) -> int:
    bad = 0
    for path in args.files:
        try:
            _check(path)
        except LipmodelError as error:
            bad += 1
            print(error, file=sys.stderr)
    return 2 if bad else 0


def _check(path):
    data = toml.load(path)
    if is_lesson(data):
        _check_lesson(path)
        return
    if "section" in data:
        spec, told = read_bore_file(path), []
        bore = assembly.to_bore(spec)
        print(f"{path}: bore file, {bore.length * 1e3:.1f} mm, {bore.volume * 1e6:.1f} ml")
    else:
        scene = read_scene(path)
        for variant in scene.variants:
            scene_bore(variant.scene, variant.scene.spec())
        notes = [unplayable(variant.scene) for variant in scene.variants]
        bore = assembly.to_bore(scene.spec())
        more = len(scene.variants) - 1
        what = f" and {more} variant{'s' if more > 1 else ''}" if more else ""
        print(f"{path}: scene{what}, {scene.sound.length_s:g} s")
        spec = scene.spec()
        told = dict.fromkeys(sentence for found in notes for sentence in found)
    for sentence in [*told, *assembly.narrow_bells(spec), *assembly.junctions(bore)]:
        print(f"  {sentence}")


def _check_lesson(path):
    """A lesson file names scenes beside it; each is checked like any other."""
    lesson = read_lesson(path)
    print(f"{path}: lesson of {len(lesson.scenes)} scenes")
    for scene in lesson.scenes:
        _check(scene)
