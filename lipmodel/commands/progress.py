"""The bar on standard error; quiet where that is no terminal."""

import sys
import time
from contextlib import contextmanager

from lipmodel.system.progress import Progress

STAGES = "{desc} {bar} {n_fmt}/{total_fmt}"
TIME_LEFT = "{desc} {bar} {n_fmt}/{total_fmt} {remaining}"
COUNTED = "{desc} {n_fmt}"


@contextmanager
def bar(total=None, form: str = STAGES, quiet: bool = False, delay: float = 0.0):
    """A Progress that moves a bar of `total` stages and writes what is said above it; the bar
    appears after `delay` s."""
    from tqdm import tqdm

    quiet = quiet or not sys.stderr.isatty()
    look = {"leave": False, "file": sys.stderr, "bar_format": form, "delay": delay}
    shows_from = time.monotonic() + delay
    with tqdm(total=total, disable=quiet, **look) as shown:

        def told(done, total, words):
            shown.total = total
            shown.set_description_str(words, refresh=False)
            shown.n, shown.bar_format = done, form if total else "{desc}"
            if time.monotonic() >= shows_from:
                shown.refresh()

        yield Progress(told, lambda text: tell(text, sys.stderr), total)


def tell(text: str, file=None):
    """A line on standard output (or `file`) that leaves the bar whole."""
    from tqdm import tqdm

    tqdm.write(text, file=file or sys.stdout)
