"""lipmodel bundle"""

import sys
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.output.background import BackgroundWriter


def run(args) -> int:
    target = Path(args.out or Path("renders") / f"{Path(args.scenes[0]).stem}.zip")
    if target.suffix.lower() != ".zip" or target.is_dir():
        raise SceneError(f"--out {target}: expected the name of a file that ends in .zip")
    with BackgroundWriter() as studio:
        from tqdm import tqdm

        from lipmodel.output.bundle import bundle
        from lipmodel.output.render import STAGES
        from lipmodel.scene.scene import read_scene

        steps = STAGES * sum(len(read_scene(path).variants) for path in args.scenes)
        with tqdm(total=steps, disable=not sys.stderr.isatty(), leave=False, file=sys.stderr,
                  bar_format="{desc} {bar} {n_fmt}/{total_fmt}") as bar:  # fmt: skip

            def step(words):
                bar.set_description_str(words)
                bar.update()

            data = bundle(args.scenes, studio, lambda w: tqdm.write(w, file=sys.stderr), step)
    folders.write_bytes(target, data)
    print(f"Wrote {target}: {len(data) / 1e6:.1f} MB. To repeat it: unzip it, python rerun.py")
    return 0
