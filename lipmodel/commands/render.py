"""lipmodel render"""

import sys
import webbrowser
from pathlib import Path

from lipmodel.errors import LipmodelError, SceneError
from lipmodel.render import STAGES, render
from lipmodel.scene import read_scene

FIGURES = ("svg", "pdf")


def run(args) -> int:
    from tqdm import tqdm

    figures = [kind.strip() for kind in args.figures.split(",") if kind.strip()]
    for kind in figures:
        if kind not in FIGURES:
            raise SceneError(f"--figures {kind}: expected {' or '.join(FIGURES)}")
    variants = {path: len(read_scene(path).variants) for path in args.scenes}
    quiet = not sys.stderr.isatty()
    failed = False
    with tqdm(total=STAGES * sum(variants.values()), disable=quiet, leave=False, file=sys.stderr,
              bar_format="{desc} {bar} {n_fmt}/{total_fmt}") as bar:  # fmt: skip

        def say(text):
            tqdm.write(text, file=sys.stderr)

        def step(words):
            bar.set_description_str(words)
            bar.update()

        for path in args.scenes:
            try:
                takes = render(
                    path, args.out, say=say, step=step,
                    options={"figures": figures, "csv": args.csv},
                )  # fmt: skip
            except LipmodelError as error:
                if len(args.scenes) == 1:
                    raise
                tqdm.write(str(error), file=sys.stderr)
                failed = True
                continue
            for take in takes:
                _tell(take, tqdm)
            if args.open:
                webbrowser.open((takes[0].folder / "listen.html").resolve().as_uri())
    return 2 if failed else 0


def _tell(take, tqdm):
    tqdm.write(f"{Path(take.folder).name}: {take.report['title']}", file=sys.stdout)
    for change in take.changed:
        tqdm.write(f"  Changed: {change}. All else was held.", file=sys.stdout)
    for sentence in take.sentences:
        tqdm.write(f"  {sentence}", file=sys.stdout)
