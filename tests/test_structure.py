"""The road through the package: who may import whom, and where each outside library lives."""

import ast
import importlib
import subprocess
import sys
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "lipmodel"

# Data flows down: a package may name only what stands above it, and of that what `MAY` allows.
ORDER = [
    "errors", "units", "air", "lips", "mouth", "system", "files", "bore", "scene", "acoustics",
    "waveguide", "sound", "analysis", "player", "studies", "output", "commands",
]  # fmt: skip
MAY = {
    "errors": set(),
    "units": set(),
    "lips": set(),
    "mouth": set(),
    "air": {"units"},
    "system": {"errors"},
    "files": {"errors", "system"},
    "bore": {"errors", "units", "files"},
    "scene": {"errors", "units", "files", "bore"},
    "acoustics": {"bore"},
    "waveguide": {"errors", "lips", "mouth", "bore", "acoustics"},
    "sound": {"files", "acoustics", "waveguide"},
    "analysis": {"units", "lips", "mouth", "acoustics", "waveguide"},
    "player": {*ORDER[:13]} - {"system"},
    "studies": {*ORDER[:14]},
    "output": {*ORDER[:15]},
    "commands": {*ORDER[:16]} - {"air", "lips", "mouth", "waveguide", "sound", "analysis"},
}
ONLY = {  # of a package, these modules alone
    ("acoustics", "bore"): {"bore.geometry", "bore.wavefronts"},
    ("sound", "files"): {"files.long_arrays"},
}
ONLY_IN = {  # outside library: its home, a module or a package
    "numba": {"waveguide.kernels"},
    "tomllib": {"files.toml", "files.toml_slips"},
    "soundfile": {"files.audio"},
    "matplotlib": {"output.pictures"},
    "PIL": {"output.pictures"},
    "argparse": {"commands.parser"},
    "pyloudnorm": {"sound.loudness", "output.background"},  # background only loads it ahead
    "tqdm": {"commands"},
    "pydantic": {"bore", "scene", "files.schema"},
    "pydantic_core": {"files.schema"},
    "shutil": {"files.atomic"},
    "base64": {"output.pages"},
    "webbrowser": {"commands"},
    "dask": {"system.cluster"},
    "platformdirs": {"files.cache"},
    "imageio_ffmpeg": {"output.film"},
}
FREE = {"numpy", "scipy", *sys.stdlib_module_names} - set(ONLY_IN)
LONGEST = 350  # lines


def name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(path): path for path in PACKAGE.rglob("*.py")}
NAMED = sorted(MODULES.keys() - {"", "__main__"})


@cache
def imports(path: Path) -> set[str]:
    """Full names of what a module imports, inside functions too."""
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


def package_of(name: str) -> str:
    return name.split(".")[0]


def problems(name: str, used: set[str]) -> list[str]:
    """What speaks against a module `name` that imports `used`."""
    here, found = package_of(name), []
    for other in sorted(used):
        there = package_of(other)
        if there == here:
            continue
        if there not in MAY[here]:
            found.append(f"{name} imports {other}: {here} may name {sorted(MAY[here])}")
        elif other not in ONLY.get((here, there), {other}):
            found.append(f"{name} imports {other}: of {there} only {ONLY[here, there]}")
    return found


def test_every_package_is_in_the_order_and_may_name_only_what_stands_above():
    assert {package_of(name) for name in NAMED} == set(ORDER) == set(MAY)
    for place, name in enumerate(ORDER):
        assert MAY[name] <= set(ORDER[:place])


@pytest.mark.parametrize("name", NAMED)
def test_imports_only_point_upwards(name):
    assert problems(name, own(name)) == []


def test_no_modules_go_round_in_a_circle():
    tuple(TopologicalSorter({name: own(name) for name in MODULES}).static_order())


def test_the_folder_of_the_package_can_be_seen_at_a_glance():
    listed = [path for path in PACKAGE.iterdir() if path.name != "__pycache__"]
    assert len([path for path in listed if path.is_file()]) <= 8
    assert len([path for path in listed if path.is_dir()]) == 12


def test_a_wrong_import_is_found_wherever_it_stands():
    assert "lipmodel.output.pages.listen" in imports(MODULES["output.take_files"])
    assert "waveguide.kernels.time_loop" in own("waveguide.time_loop")
    assert problems("acoustics.losses", {"scene.scene"})
    assert problems("acoustics.losses", {"bore.sections"})
    assert problems("player.build", {"studies.map"})
    assert not problems("player.build", {"scene.scene", "bore.sections"})


@pytest.mark.parametrize("name", sorted(MODULES))
def test_every_outside_library_has_its_home(name):
    outside = {i.split(".")[0] for i in imports(MODULES[name])} - {"lipmodel"}
    for library in outside - FREE:
        homes = ONLY_IN.get(library, set())
        assert any(f"{name}.".startswith(f"{home}.") for home in homes), (
            f"{library} in {name}: its home is {homes}"
        )


@pytest.mark.parametrize("library", ONLY_IN)
def test_no_home_stands_empty(library):
    users = {
        name for name in MODULES if library in {i.split(".")[0] for i in imports(MODULES[name])}
    }
    for home in ONLY_IN[library]:
        assert any(f"{name}.".startswith(f"{home}.") for name in users), f"{library}: {home}"


@pytest.mark.parametrize("name", sorted(MODULES))
def test_no_module_is_longer_than_one_sitting(name):
    assert len(MODULES[name].read_text("utf-8").splitlines()) <= LONGEST


def test_every_public_name_is_where_the_package_says():
    import lipmodel

    assert dir(lipmodel) == lipmodel.__all__
    for name in lipmodel.__all__:
        home, _, known_as = lipmodel._HOMES[name].partition(":")
        module = importlib.import_module(f"lipmodel.{home}")
        # some have modules of their own name, which Python would put in their place
        assert getattr(lipmodel, name) is getattr(module, known_as or name)
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
