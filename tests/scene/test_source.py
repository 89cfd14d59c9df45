"""The [source] of a scene: defaults of each kind, and lengths that make no sense."""

import re

import pytest
from support import source_scenes
from support.source_scenes import SHORT

from lipmodel.errors import SceneError
from lipmodel.scene.scene import read_scene

scene = source_scenes.scene  # the same fixture


def test_a_source_says_how_long_it_may_be(tmp_path):
    path = tmp_path / "click.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[source]\nkind = "pop"\n[sound]\nlength_s = 900\n'
    )
    with pytest.raises(SceneError, match=r"to 208 s: a \[source\] is held"):
        read_scene(path)


def test_each_kind_has_its_own_defaults(scene):
    pop = read_scene(scene('kind = "pop"')).source
    assert (pop.lip_end, pop.strength_kpa, pop.heat_w) == ("closed", 1.0, None)
    fire = read_scene(scene('kind = "flame"')).source
    assert (fire.lip_end, fire.lag_ms, fire.flow_l_s) == ("open", 1.0, None)
    with pytest.raises(SceneError, match="expected to be left out"):
        read_scene(scene('kind = "tone"\nheat_w = 3'))


@pytest.mark.parametrize(
    ("more", "length", "told"),
    [
        ("", 0.05, "expected 0.12 s or more: the pop begins at 0.1 s"),
        ("", 0.119, "expected 0.12 s or more: the pop begins at 0.1 s"),
        ("start_s = 5.0", 1.2, "expected 5.02 s or more: the pop begins at 5 s"),
    ],
)
def test_a_pop_that_nobody_would_hear_is_refused(tmp_path, more, length, told):
    path = tmp_path / "late.toml"
    path.write_text(SHORT.format(tube='name = "pipe"', more=more, length=length))
    with pytest.raises(SceneError, match=re.escape(f"{path}: sound.length_s = {length}: {told}")):
        read_scene(path)
    path.write_text(SHORT.format(tube='name = "pipe"', more="", length=0.12))
    assert read_scene(path).sound.length_s == 0.12
