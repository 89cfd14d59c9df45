"""lipmodel lesson"""

import sys
import time
import webbrowser
from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import bar
from lipmodel.files import folders
from lipmodel.output.background import BackgroundWriter
from lipmodel.system.tasks import workers_asked


def run(args) -> int:
    page_file = target.file(args.out, f"{Path(args.files[0]).stem}.html", ".html", ".htm")
    with BackgroundWriter() as writer:
        return _run(args, page_file, writer)


def _run(args, page_file, writer) -> int:
    from lipmodel.output.lesson import lesson_of, make_lesson, progress_steps

    lesson, began = lesson_of(args.files), time.monotonic()
    how = workers_asked(args.workers)
    with bar(progress_steps(lesson)) as progress:
        page, failed = make_lesson(lesson, writer, how, progress)
    data = page.encode()
    folders.write_bytes(page_file, data)
    for sentence in failed:
        print(sentence, file=sys.stderr)
    size = f"{_counted(len(lesson.sections), 'section')}, {len(data) / 1e6:.1f} MB"
    print(f"Wrote {page_file}: {size}, made in {_lasted(time.monotonic() - began)}")
    if args.open:
        webbrowser.open(page_file.resolve().as_uri())
    return 2 if failed else 0


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'s' * (number > 1)}"


def _lasted(seconds: float) -> str:
    """ "48 s", "2 min 5 s"."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"
