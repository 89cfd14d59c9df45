"""Five hundred good files made bad: each is checked, and told in sentences, never a traceback."""

import contextlib
import io
import json
import re
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from support import small_compare
from support.mutated import mutated

from lipmodel.commands.main import main
from lipmodel.errors import LipmodelError, SceneError
from lipmodel.files import schema, toml
from lipmodel.scene.scene import read_scene

ROOT = Path(__file__).resolve().parents[2]
FILES = [
    *sorted((ROOT / "scenes").glob("*.toml")),
    *sorted((ROOT / "scenes" / "lesson").glob("*.toml")),
    *sorted((ROOT / "lipmodel" / "instruments").glob("*.toml")),
]
GOOD = {f"{path.parent.name}/{path.name}": path.read_bytes() for path in FILES}
PROFILE = b"x_mm,diameter_mm\n0,10\n200,11\n200,12.5\n700,20\n"
POINTS = b'[[section]]\nshape = "points"\nfile = "profile.csv"\n'
CURVE = b"# Hz, ohm\n100,1e6\n120,3e6\n150,2e6\n"
# one of 500 drawn files in the default run is one of twenty: the whole is for CI
DEFAULT, WHOLE = 25, 500


def tries(number):
    """The same draws every time; nothing is kept between runs."""
    return settings(
        max_examples=number, derandomize=True, deadline=None, database=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )  # fmt: skip


def run(argv) -> tuple[int, list[str], str]:
    """Exit code, lines of complaint and what was said by a command, with nothing raised."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(a) for a in argv])
    return code, err.getvalue().split("\n")[:-1], out.getvalue()


def in_words(code, lines, names, most=schema.MOST_TOLD + 1):
    """Exit 0 without a complaint, or 2 with one-line sentences that name a file; of one that is
    no TOML the line is shown, and a caret."""
    assert code in (0, 2)
    assert bool(lines) == (code == 2)
    sentences = [line for line in lines if not line.startswith("    ")]
    assert len(sentences) <= most
    assert len(lines) <= 3 * len(sentences)
    for line in sentences:
        assert re.sub(r":\d+: ", ": ", line).startswith(tuple(f"{n}: " for n in names)), line
    for line in lines:
        assert len(line) < 1000
        assert all(c.isprintable() for c in line), line


def checked(folder, case):
    name, data = case
    work = folder / "work"
    shutil.rmtree(work, ignore_errors=True)
    shutil.copytree(ROOT / "scenes", work)
    bad = work / Path(name).name if name.startswith("scenes/") else work / name
    bad.parent.mkdir(exist_ok=True)
    bad.write_bytes(data)
    code, lines, _ = run(["check", bad])
    # a lesson names scenes, and those the files beside them
    in_words(code, lines, [bad, *work.rglob("*.toml"), *work.rglob("*.csv")])
    return code, bad


@tries(DEFAULT)
@given(case=mutated(GOOD))
def test_a_changed_file_is_checked_in_sentences(tmp_path, case):
    checked(tmp_path, case)


@pytest.mark.slow
@tries(WHOLE)
@given(case=mutated(GOOD))
def test_five_hundred_changed_files_are_checked_in_sentences(tmp_path, case):
    checked(tmp_path, case)


def still_good(folder, case):
    """What check says is good can be played, or the refusal is one sentence."""
    code, bad = checked(folder, case)
    if code or "section" in toml.load(bad) or "scenes" in toml.load(bad):
        return
    text = bad.read_text("utf-8-sig")
    short = "length_s = 0.2\n"
    text = "".join(l for l in text.splitlines(True) if not l.startswith("length_s"))
    text = text.replace("[sound]\n", f"[sound]\n{short}") if "[sound]\n" in text else (
        text.replace("[[variant]]", f"[sound]\n{short}[[variant]]", 1)
        if "[[variant]]" in text else f"{text}\n[sound]\n{short}"
    )  # fmt: skip
    bad.write_text(text.split("[[variant]]")[0].split("[show]")[0], "utf-8")
    try:
        read_scene(bad)
    except SceneError:
        return  # its first note begins later, or the cut was not a clean one
    code, lines, _ = run(["render", bad, "--out", folder / "out"])
    in_words(code, [line for line in lines if "compiling" not in line], [bad])


@pytest.mark.slow
@tries(120)
@given(case=mutated({k: v for k, v in GOOD.items() if k.startswith("scenes/")}))
def test_what_check_lets_pass_can_be_played_or_is_refused_in_a_sentence(tmp_path, case):
    still_good(tmp_path, case)


@pytest.fixture(scope="module")
def result(compared):
    """A file of results of the small set, and the set's own compare.json."""
    document = json.loads((compared / "compare.json").read_text("utf-8"))
    return json.dumps(small_compare.results(document, "anna", 7), indent=1).encode()


def read_back(folder, compared, case):
    _, data = case
    for file in compared.iterdir():
        if file.name == "compare.json" or file.suffix == ".wav":
            shutil.copy(file, folder / file.name)
    (folder / "result.json").write_bytes(data)
    code, lines, _ = run(["compare", "--read", folder / "result.json"])
    in_words(code, lines, [folder / "result.json", folder / "compare.json"])


@pytest.mark.parametrize("number", [DEFAULT, pytest.param(200, marks=pytest.mark.slow)])
def test_changed_results_are_read_in_sentences(tmp_path, compared, result, number):
    @tries(number)
    @given(case=mutated({"result.json": result}))
    def each(case):
        read_back(tmp_path, compared, case)

    each()


TABLES = {"profile.csv": PROFILE, "curve.csv": CURVE}


def told_of_table(folder, case):
    name, data = case
    (folder / name).write_bytes(data)
    if name == "profile.csv":
        (folder / "bore.toml").write_bytes(POINTS)
        code, lines, _ = run(["check", folder / "bore.toml"])
        in_words(code, lines, [folder / "profile.csv", folder / "bore.toml"])
    else:
        from lipmodel.commands.resonances import _measured

        try:
            _measured(folder / name)
        except LipmodelError as error:
            in_words(2, str(error).split("\n"), [folder / name])


@pytest.mark.parametrize("number", [DEFAULT, pytest.param(200, marks=pytest.mark.slow)])
def test_changed_tables_are_read_in_sentences(tmp_path, number):
    @tries(number)
    @given(case=mutated(TABLES))
    def each(case):
        told_of_table(tmp_path, case)

    each()
