"""lipmodel render"""

import webbrowser
from contextlib import suppress
from pathlib import Path

from lipmodel.commands.progress import bar, tell
from lipmodel.errors import LipmodelError, SceneError
from lipmodel.output.background import BackgroundWriter

FIGURES = ("svg", "pdf")


def run(args) -> int:
    # the second process first: it loads its share while this one loads the rest
    with BackgroundWriter() as writer:
        return _run(args, writer)


def _run(args, writer) -> int:
    from lipmodel.output.render import STAGES, rendered

    figures = [kind.strip() for kind in args.figures.split(",") if kind.strip()]
    for kind in figures:
        if kind not in FIGURES:
            raise SceneError(f"--figures {kind}: expected {' or '.join(FIGURES)}")
    steps = STAGES * sum(_takes_of(path) for path in _differing(args.scenes))
    failed = False
    with bar(steps) as progress:
        how = {"figures": figures, "csv": args.csv, "writer": writer, "progress": progress}
        for path in args.scenes:
            first = None
            try:
                for take in rendered(path, args.out, **how):
                    first = first or take
                    _tell(take)
            except LipmodelError as error:
                if len(args.scenes) == 1:
                    raise
                progress.say(str(error))
                failed = True
                continue
            if args.open:
                webbrowser.open((first.folder / "listen.html").resolve().as_uri())
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


def _tell(take):
    with suppress(BrokenPipeError):  # nobody reads any more: the takes are written all the same
        tell(f"{take.name}: {take.report['title']}")
        if take.changed:
            tell(f"  Changed: {'; '.join(take.changed)}. All else was held.")
        for sentence in take.sentences:
            tell(f"  {sentence}")
