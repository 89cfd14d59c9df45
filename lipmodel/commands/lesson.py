"""lipmodel lesson"""

import sys
import webbrowser
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.output.background import BackgroundWriter
from lipmodel.system.tasks import workers_asked

KINDS = (".html", ".htm")


def run(args) -> int:
    target = Path(args.out or Path("renders") / f"{Path(args.files[0]).stem}.html")
    if target.suffix.lower() not in KINDS or target.is_dir():
        raise SceneError(f"--out {target}: expected the name of a file that ends in .html")
    with BackgroundWriter() as studio:
        return _run(args, target, studio)


def _run(args, target, studio) -> int:
    from tqdm import tqdm

    from lipmodel.output.lesson import Progress, lesson_of, make_lesson, progress_steps

    lesson = lesson_of(args.files)
    how = workers_asked(args.workers)
    with tqdm(total=progress_steps(lesson), disable=not sys.stderr.isatty(), leave=False,
              file=sys.stderr, bar_format="{desc} {bar} {n_fmt}/{total_fmt}") as bar:  # fmt: skip

        def say(text):
            tqdm.write(text, file=sys.stderr)

        def step(words):
            bar.set_description_str(words)
            bar.update()

        def part(done, total):
            bar.set_description_str(f"map: {done} of {total}")

        page, failed = make_lesson(lesson, studio, how, Progress(say, step, part))
    data = page.encode()
    folders.write_bytes(target, data)
    for sentence in failed:
        print(sentence, file=sys.stderr)
    scenes = len(lesson.scenes)
    print(f"Wrote {target}: {scenes} scene{'s' * (scenes > 1)}, {len(data) / 1e6:.1f} MB")
    if args.open:
        webbrowser.open(target.resolve().as_uri())
    return 2 if failed else 0
