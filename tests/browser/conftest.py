"""The live page of the trumpet with all its valves: made once a run."""

import pytest

from lipmodel.output.live import live_set
from lipmodel.output.pages.live.page import live_page
from lipmodel.scene.scene import read_scene

SCENE = '[instrument]\nname = "{}"\n[player]\npressure_kpa = 6.0\ntension_hz = 300.0\n'


def written(folder, name):
    path = folder / f"{name}.toml"
    path.write_text(SCENE.format(name), encoding="utf-8")
    page = folder / f"{name}.html"
    page.write_text(live_page("The live horn", live_set(read_scene(path))), encoding="utf-8")
    return page


@pytest.fixture(scope="session")
def trumpet_page(tmp_path_factory):
    return written(tmp_path_factory.mktemp("stage"), "trumpet")


@pytest.fixture(scope="session")
def trombone_page(tmp_path_factory):
    return written(tmp_path_factory.mktemp("slide"), "trombone")
