"""Helpers of the tests can be imported by name; what is kept between runs is kept apart."""

import json
import os
import signal
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
pytest.register_assert_rewrite("support")
# linear algebra of this size is slower on two threads than on one, and each worker has its own
os.environ.setdefault("OMP_NUM_THREADS", "1")
# one for all processes of a run: the first sets it, the others inherit it
os.environ.setdefault("LIPMODEL_TEST_CACHE", tempfile.mkdtemp(prefix="lipmodel-tests-"))
os.environ["LIPMODEL_CACHE"] = os.environ["LIPMODEL_TEST_CACHE"]


# what is begun in the background ignores Ctrl-C, with nohup the end of its terminal too, and so
# would what the tests begin
with suppress(ValueError):  # not in the first thread
    hangup = getattr(signal, "SIGHUP", signal.SIGTERM)
    for number, usual in ((signal.SIGINT, signal.default_int_handler), (hangup, signal.SIG_DFL)):
        if signal.getsignal(number) == signal.SIG_IGN:
            signal.signal(number, usual)


SCENES = Path(__file__).resolve().parents[1] / "scenes"


@pytest.fixture(scope="session")
def out(tmp_path_factory):
    """Where scenes are rendered to."""
    return tmp_path_factory.mktemp("scenes")


@pytest.fixture(scope="session")
def played(out):
    """Reports by folder name; each scene is rendered once, when first asked for."""
    from lipmodel.output.render import render

    known = {}

    def ask(name, scene=None):
        if name not in known:
            for take in render(SCENES / f"{scene or name}.toml", out):
                known[take.folder.name] = json.loads((take.folder / "report.json").read_text())
        return known[name]

    return ask


@pytest.fixture(scope="session")
def lesson():
    """The page of a short lesson with everything in it, and its command's exit code."""
    from support import small_lesson

    return small_lesson.make(Path(os.environ["LIPMODEL_TEST_CACHE"]) / "lesson")


@pytest.fixture(scope="session")
def compared(tmp_path_factory):
    """The folder that `compare` writes for three short sounds."""
    from support import small_compare

    return small_compare.make(tmp_path_factory.mktemp("compare"))
