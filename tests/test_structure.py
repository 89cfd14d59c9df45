"""The road through the package: who may import whom, and where each outside library lives."""

import ast
import importlib
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "lipmodel"

# A module may import only what stands above it: the same order as the road in DEVELOPERS.md.
ORDER = [
    "errors",
    "units",
    "spool",
    "stopping",
    "aside",
    "keep",
    "made_with",
    # files to checked values
    "paths",
    "reading",
    "profile",
    "shapes",
    "obstacles",
    "sections",
    "bore",
    "wavefronts",
    "borefile",
    "fingering",
    "instruments",
    "variants",
    "phrase",
    "source_table",
    "instrument_table",
    "scene",
    "lesson_file",
    "starters",
    # physics: numbers in, numbers out
    "air",
    "acoustics",
    "acoustics.brassiness",
    "acoustics.losses",
    "acoustics.radiation",
    "acoustics.impedance",
    "acoustics.reflection",
    "acoustics.resonances",
    "acoustics.natural",
    "acoustics.field",
    "acoustics.rayleigh",
    "acoustics.power",
    "acoustics.mirror",
    "cells",
    "waveguide",
    "fit",
    "lips",
    "gesture",
    "loop_arrays",
    "compiling",
    "kernel_lines",
    "kernel_lips",
    "kernel",
    "timeloop",
    "kernel_source",
    "driven",
    "echo",
    "snapshots",
    "kernel_steepening",
    "steepening",
    "sound",
    "evened",
    "listener",
    "analysis",
    "analysis.pitch",
    "analysis.spectrum",
    "analysis.peaks",
    "analysis.lock",
    "analysis.notes",
    "analysis.threshold",
    "analysis.slots",
    # both meet: a scene is played
    "build",
    "embouchure",
    "atlas",
    "rehearsed",
    "tuning",
    "expression",
    "slide",
    "planning",
    "hearing",
    "perform",
    "balance",
    "sourced",
    "run",
    "swept",
    "pairing",
    "family",
    "mirrored",
    "dynamics",
    "standing",
    "echoes",
    "chart",
    "reasons",
    "remedies",
    "because",
    "holding",
    "holds",
    "listening",
    # what is told and shown
    "report",
    "source_report",
    "source_sentences",
    "live_set",
    "sentences",
    "pictures",
    "pictures.style",
    "pictures.save",
    "pictures.played",
    "pictures.source",
    "pictures.energy",
    "pictures.impedance",
    "pictures.slots",
    "pictures.pair",
    "pictures.bores",
    "pictures.pedal",
    "pictures.mirror",
    "pictures.dynamics",
    "pictures.field",
    "pictures.echo",
    "pictures.map",
    "pictures.compare",
    "pictures.tube",
    "pictures.filmsheet",
    "pictures.film",
    "beside",
    "pages",
    "pages.listen",
    "pages.chart",
    "pages.why",
    "pages.sealed",
    "pages.lesson_parts",
    "pages.lesson",
    "pages.live_words",
    "pages.live",
    "pages.compare",
    # the only writer, and the words of the command line
    "files",
    "finish",
    "studio",
    "rendering",
    "sweep",
    "mapping",
    "audible",
    "lessons",
    "bundling",
    "filming",
    "comparing",
    "verdicts",
    "what",
    "commands",
    "commands.bundle",
    "commands.chart",
    "commands.check",
    "commands.compare",
    "commands.film",
    "commands.instruments",
    "commands.lesson",
    "commands.live",
    "commands.map",
    "commands.new",
    "commands.ready",
    "commands.render",
    "commands.resonances",
    "commands.slots",
    "commands.why",
    "cli",
    "__main__",
]
# The scene knows no physics and the physics no scene: build.py is where they meet.
SCENE_SIDE = ORDER[ORDER.index("paths") : ORDER.index("air")]
PHYSICS = ORDER[ORDER.index("air") : ORDER.index("build")]
GEOMETRY = {"errors", "units", "spool", "bore", "wavefronts"}

ONLY_IN = {  # outside library: its home, a module or a package
    # the kernels are compiled, and kept between runs, by compiling
    "numba": {"kernel", "compiling"},
    "tomllib": {"reading"},
    "soundfile": {"files"},
    "matplotlib": {"pictures"},
    "PIL": {"pictures"},
    "argparse": {"cli"},
    "pyloudnorm": {"sound", "studio"},  # studio only loads it ahead
    "tqdm": {"commands"},
    "pydantic": {
        "instrument_table",
        "reading",
        "profile",
        "sections",
        "borefile",
        "phrase",
        "scene",
        "lesson_file",
    },
    "pydantic_core": {"reading"},
    "shutil": {"aside"},
    "base64": {"pages"},
    "webbrowser": {"commands"},
    "dask": {"sweep"},
    "imageio_ffmpeg": {"filming"},
}
FREE = {"numpy", "scipy", *sys.stdlib_module_names} - set(ONLY_IN)


def name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(path): path for path in PACKAGE.rglob("*.py")}


def imports(path: Path) -> set[str]:
    """Full names of what a module imports, inside functions too; relative imports as written."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: write the import from lipmodel"
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                known = inner.removeprefix("lipmodel.") in MODULES
                found.add(inner if known else node.module)
    return found


def own(name: str) -> set[str]:
    """Modules of the package that `name` imports."""
    used = imports(MODULES[name])
    assert "lipmodel" not in used, f"{name}: import from the module, not from the package"
    return {u.removeprefix("lipmodel.") for u in used if u.startswith("lipmodel.")}


def test_the_list_names_every_module_once_and_nothing_else():
    assert len(ORDER) == len(set(ORDER))
    assert {*ORDER, ""} == set(MODULES)


@pytest.mark.parametrize("name", ORDER)
def test_imports_only_point_upwards(name):
    above = set(ORDER[: ORDER.index(name)])
    assert own(name) <= above, f"{name} imports {sorted(own(name) - above)}"


def test_imports_inside_functions_are_seen():
    assert "lipmodel.pages.listen" in imports(MODULES["finish"])
    assert "kernel" in own("timeloop")


@pytest.mark.parametrize("name", PHYSICS)
def test_the_physics_knows_no_files_and_no_scene(name):
    assert own(name) <= {*PHYSICS, *GEOMETRY}


@pytest.mark.parametrize("name", SCENE_SIDE)
def test_the_scene_knows_no_physics(name):
    assert own(name) <= {*SCENE_SIDE, *GEOMETRY}


@pytest.mark.parametrize("name", ["", *ORDER])
def test_every_outside_library_has_its_home(name):
    outside = {i.split(".")[0] for i in imports(MODULES[name])} - {"lipmodel"}
    for library in outside - FREE:
        homes = ONLY_IN.get(library, set())
        assert {name, name.split(".")[0]} & homes, f"{library} in {name}: its home is {homes}"


@pytest.mark.parametrize("library", ONLY_IN)
def test_no_home_stands_empty(library):
    users = {
        name for name in MODULES if library in {i.split(".")[0] for i in imports(MODULES[name])}
    }
    found = {name if name in ONLY_IN[library] else name.split(".")[0] for name in users}
    assert found == ONLY_IN[library]


@pytest.mark.parametrize("name", ["", *ORDER])
def test_no_module_is_longer_than_one_sitting(name):
    assert len(MODULES[name].read_text("utf-8").splitlines()) <= 400


def test_every_public_name_is_where_the_package_says():
    import lipmodel

    for name in lipmodel.__all__:
        # two of them have modules of their own name, which Python would put in their place
        importlib.import_module(f"lipmodel.{lipmodel.HOMES[name]}")
        assert getattr(lipmodel, name).__name__ == name
    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        _ = lipmodel.nothing


ALLOWED_AT_THE_TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "lipmodel",
    "tests",
    "scenes",
    "renders",
}


def test_the_top_of_the_repository_is_tidy():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0].strip('"') for line in listed.stdout.splitlines()}
    assert {"lipmodel", "tests"} <= top
    extra = {name for name in top if not name.startswith(".")} - ALLOWED_AT_THE_TOP
    assert not extra, f"at the top of the repository: {sorted(extra)}"
