"""lipmodel render"""

import sys
import webbrowser
from contextlib import suppress
from pathlib import Path

from lipmodel.errors import LipmodelError, SceneError
from lipmodel.output.background import BackgroundWriter

FIGURES = ("svg", "pdf")


def run(args) -> int:
    # the second process first: it loads its share while this one loads the rest
    with BackgroundWriter() as studio:
        return _run(args, studio)


def _run(args, studio) -> int:
    from tqdm import tqdm

    from lipmodel.output.render import STAGES, render

    figures = [kind.strip() for kind in args.figures.split(",") if kind.strip()]
    for kind in figures:
        if kind not in FIGURES:
            raise SceneError(f"--figures {kind}: expected {' or '.join(FIGURES)}")
    steps = STAGES * sum(_takes_of(path) for path in _differing(args.scenes))
    quiet = not sys.stderr.isatty()
    failed = False
    with tqdm(total=steps, disable=quiet, leave=False, file=sys.stderr,
              bar_format="{desc} {bar} {n_fmt}/{total_fmt}") as bar:  # fmt: skip

        def say(text):
            tqdm.write(text, file=sys.stderr)

        def step(words):
            bar.set_description_str(words)
            bar.update()

        for path in args.scenes:
            try:
                takes = render(
                    path, args.out, say=say, step=step, studio=studio,
                    done=lambda take: _tell(take, tqdm),
                    options={"figures": figures, "csv": args.csv},
                )  # fmt: skip
            except LipmodelError as error:
                if len(args.scenes) == 1:
                    raise
                tqdm.write(str(error), file=sys.stderr)
                failed = True
                continue
            if args.open:
                webbrowser.open((takes[0].folder / "listen.html").resolve().as_uri())
    return 2 if failed else 0


def _differing(paths) -> list[str]:
    """`paths`, refused where two would be written into one folder."""
    stems = [Path(path).stem for path in paths]
    for i, stem in enumerate(stems):
        if stem in stems[:i]:
            first = paths[stems.index(stem)]
            raise SceneError(
                f"{paths[i]}: would be written over {first}; expected scenes with different names"
            )
    return paths


def _takes_of(path) -> int:
    """Folders that a scene makes; 0 for a broken one, which is told when its turn comes."""
    from lipmodel.scene.scene import read_scene

    try:
        return len(read_scene(path).variants)
    except LipmodelError:
        return 0


def _tell(take, tqdm):
    with suppress(BrokenPipeError):  # nobody reads any more: the takes are written all the same
        _tell_reader(take, tqdm)


def _tell_reader(take, tqdm):
    tqdm.write(f"{Path(take.folder).name}: {take.report['title']}", file=sys.stdout)
    if take.changed:
        tqdm.write(f"  Changed: {'; '.join(take.changed)}. All else was held.", file=sys.stdout)
    for sentence in take.sentences:
        tqdm.write(f"  {sentence}", file=sys.stdout)
