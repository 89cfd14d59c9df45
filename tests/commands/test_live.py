"""`lipmodel live`: long bores, and bad input in one line."""

import pytest
from support import small_live
from support.small_live import SCENE, scene

from lipmodel.commands.main import main

few_tubes = small_live.few_tubes  # the same fixture


def test_a_long_bore_comes_at_half_the_rate_and_a_longer_one_is_refused(tmp_path, capsys):
    out = tmp_path / "live.html"
    assert main(["live", str(scene(tmp_path, 7000)), "--out", str(out)]) == 0
    assert "at half the rate, 24 kHz" in capsys.readouterr().out
    assert '"rates":[24000]' in out.read_text("utf-8")
    out.unlink()
    assert main(["live", str(scene(tmp_path, 19_000)), "--out", str(out)]) == 2
    told = capsys.readouterr().err
    assert "19.0 m long and would cost 13 times a trumpet" in told
    assert told.count("\n") == 1
    assert not out.exists()


def test_other_tubes_are_had_by_asking(tmp_path, capsys):
    path, out = str(scene(tmp_path, 900)), tmp_path / "live.html"
    assert main(["live", path, "--out", str(out), "--tubes", "pipe"]) == 0
    assert "2 tubes" in capsys.readouterr().out
    assert '"label":"pipe"' in out.read_text("utf-8")
    out.unlink()
    assert main(["live", path, "--out", str(out), "--tubes", "funel"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("--tubes funel: expected one of baritone")
    assert told.count("\n") == 1
    assert main(["live", path, "--out", str(out), "--tubes", "mouthpiece"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("tube mouthpiece: the bore is 66 mm long, too short for rate_hz = 24000")
    assert not out.exists()


@pytest.mark.parametrize(
    ("text", "out", "told"),
    [
        ('[instrument]\nname = "pipe"\n[source]\nkind = "pop"\n', "a.html",
         "needs the lips of a [player]"),
        (SCENE, "a.txt", "expected the name of a file that ends in .html"),
    ],
)  # fmt: skip
def test_bad_input_is_one_line(tmp_path, capsys, text, out, told):
    path = scene(tmp_path, 900, text=text)
    assert main(["live", str(path), "--out", str(tmp_path / out)]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1
    assert not (tmp_path / out).exists()
