"""Make `renders/gallery/` again: the lesson "Why notes snap", the live horn and the pictures of the
README.

    python tests/reference/make_gallery.py
    python tests/reference/make_gallery.py live

Takes some minutes; the live horn alone some seconds.  `made_from.json` says which files it was made
from and what was played; `test_gallery.py` holds both against the scenes as they are.
"""

import json
import sys
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory

from lipmodel.commands.main import main
from lipmodel.files.paths import files_named
from lipmodel.output.pictures.image_file import lighter
from lipmodel.output.render import render
from lipmodel.scene.scene import read_scene

ROOT = Path(__file__).resolve().parents[2]
GALLERY = ROOT / "renders" / "gallery"
LESSON = ROOT / "scenes" / "lesson" / "lesson.toml"
PLAYED = ("locked", "snap")  # scenes of the lesson whose notes are kept, to be played again
PICTURES = {  # in the gallery: (command, scene, picture it makes)
    "slots.png": ("render", "slots", "slots/picture.png"),
    "mouthpiece.png": ("render", "mouthpiece", "mouthpiece/picture.png"),
    "hailing_cone.png": ("render", "hailing_cone", "hailing_cone/picture.png"),
    "shapes.png": ("render", "shapes", "shapes/bores.png"),
    "mirror.png": ("render", "mirror", "mirror/mirror.png"),
    "staircase.png": ("slots", "slots", "slots-slots/picture.png"),
    "map.png": ("map", "map", "map-map/picture.png"),
}


def sources() -> dict:
    """{file from the project's root: sha256} of every scene behind the gallery and what it
    names."""
    scenes = [ROOT / "scenes" / f"{scene}.toml" for _, scene, _ in PICTURES.values()]
    scenes += sorted(LESSON.parent.glob("*.toml"))
    found = {}
    for path in scenes:
        with files_named() as named:
            if path != LESSON:
                read_scene(path)
        for file in (path, *named):
            name = file.resolve().relative_to(ROOT).as_posix()
            found[name] = sha256(file.read_bytes()).hexdigest()
    return dict(sorted(found.items()))


def played(scene: str, folder) -> list:
    """Frequencies in Hz of the notes of a scene of the lesson, take by take."""
    takes = render(LESSON.parent / f"{scene}.toml", folder)
    return [[n["frequency_hz"] for n in t.report["notes"]] for t in takes]


def make_live():
    """The live page of the trumpet as built in."""
    if main(["live", "--out", str(GALLERY / "live.html")]):
        sys.exit("the live page failed")


def make():
    GALLERY.mkdir(parents=True, exist_ok=True)
    make_live()
    with TemporaryDirectory() as folder:
        for command, scene in dict.fromkeys((c, s) for c, s, _ in PICTURES.values()):
            path = str(ROOT / "scenes" / f"{scene}.toml")
            out = f"{folder}/map-map" if command == "map" else folder
            if main([command, path, "--out", out]):
                sys.exit(f"{command} {scene} failed")
        for name, (_, _, picture) in PICTURES.items():
            (GALLERY / name).write_bytes(lighter((Path(folder) / picture).read_bytes()))
        notes = {scene: played(scene, f"{folder}/again") for scene in PLAYED}
    if main(["lesson", str(LESSON), "--out", str(GALLERY / "why_notes_snap.html")]):
        sys.exit("the lesson failed")
    told = {"scenes": sources(), "notes_hz": notes}
    (GALLERY / "made_from.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    make_live() if sys.argv[1:] == ["live"] else make()
