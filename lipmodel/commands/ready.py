"""lipmodel ready: before the class comes in."""

import sys
from importlib import metadata
from pathlib import Path

from lipmodel.files.atomic import scratch
from lipmodel.output.render import render
from lipmodel.player.warm_up import warm_up
from lipmodel.scene import starters

CORE = ("numpy", "numba", "scipy", "soundfile", "matplotlib", "pydantic", "tqdm", "pyloudnorm")
EXTRA = {"dask": "cluster", "imageio-ffmpeg": "film"}
IN_TUNE = 3.0  # cents


def run(args) -> int:
    print(f"Python {sys.version.split()[0]}")
    for name in CORE:
        print(f"  {name} {metadata.version(name)}")
    for name, extra in EXTRA.items():
        try:
            print(f"  {name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            print(f"  {name} not installed (only for the extra [{extra}])")
    took = warm_up(lambda text: print(text, file=sys.stderr))
    print(f"Time loop: compiled in {took:.1f} s" if took > 1 else "Time loop: ready")
    note = _one_note()
    off = abs(note["cents"])
    print(
        f"Self-check: {note['written']} (written) at {note['frequency_hz']:.2f} Hz, "
        f"{off:.1f} cents off"
    )
    if off > IN_TUNE or note["state"] != "locked":
        print("The self-check failed: the note should be in tune and locked.", file=sys.stderr)
        return 1
    print("Ready.")
    return 0


def _one_note() -> dict:
    with scratch() as folder:
        path = Path(folder) / "note.toml"
        path.write_text(starters.text("note"), encoding="utf-8")
        return render(path, folder)[0].report["notes"][0]
