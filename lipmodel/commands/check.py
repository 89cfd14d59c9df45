"""lipmodel check"""

import sys

from lipmodel.bore import assembly
from lipmodel.bore.bore_file import BoreFile, read_bore_file
from lipmodel.errors import LipmodelError
from lipmodel.files import toml
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
    spec, told = _bore(path) if "section" in data else _scene(path)
    junctions = assembly.junctions(assembly.to_bore(spec))
    for sentence in [*told, *assembly.narrow_bells(spec), *junctions]:
        print(f"  {sentence}")


def _bore(path) -> tuple[BoreFile, list[str]]:
    spec = read_bore_file(path)
    bore = assembly.to_bore(spec)
    print(f"{path}: bore file, {bore.length * 1e3:.1f} mm, {bore.volume * 1e6:.1f} ml")
    return spec, []


def _scene(path) -> tuple[BoreFile, list[str]]:
    """What a scene is blown on, and sentences about its notes, those of the variants too."""
    scene = read_scene(path)
    told = [sentence for variant in scene.variants for sentence in unplayable(variant.scene)]
    more = len(scene.variants) - 1
    what = f" and {more} variant{'s' if more > 1 else ''}" if more else ""
    print(f"{path}: scene{what}, {scene.sound.length_s:g} s")
    return scene.spec(), list(dict.fromkeys(told))


def _check_lesson(path):
    """A lesson file names scenes beside it; each is checked like any other."""
    lesson = read_lesson(path)
    print(f"{path}: lesson of {len(lesson.scenes)} scenes")
    for scene in lesson.scenes:
        _check(scene)
