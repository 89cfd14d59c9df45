"""A scene may leave out the loss of head behind the throat."""

import numpy as np

from lipmodel.player.performance import perform
from lipmodel.scene.scene import read_scene


def test_a_scene_may_leave_it_out(tmp_path):
    path = tmp_path / "class.toml"
    text = '[instrument]\nname = "trumpet"\n{}[player]\ntune = "C5 0.7"\ndynamic = "ff"\n'
    runs = []
    for more in ("", "throat_loss = false\n"):
        path.write_text(text.format(more))
        runs.append(perform(read_scene(path)))
    on, off = runs
    assert on.books[7] > 0
    assert off.books[7] == 0
    loud = [p.played.mouthpiece_pressure[15_000:20_000].std() for p in runs]
    # measured 0.5 dB
    assert 0.2 < 20 * np.log10(loud[1] / loud[0]) < 1.2
