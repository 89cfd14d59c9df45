"""What is told of notes on a slide: position, resonance, and where a note rests in tune."""

import numpy as np
import pytest
from support.bores import SLIDE_BORE, slide_scene
from support.music import RATE
from support.slides import SPEC, phrase, played, report_rows

from lipmodel.bore.assembly import to_bore
from lipmodel.player import performance
from lipmodel.player.cached import kept_resonances
from lipmodel.player.instrument import resting_cents
from lipmodel.scene.scene import read_scene


def test_the_report_tells_each_note_s_position_and_resonance(tmp_path):
    held = (("Bb3", 1), ("E3", 2))
    notes = [f'{{note = "{n}", length_s = 0.6, slide_position = {p}}}' for n, p in held]
    run = played(tmp_path, phrase(*notes))
    rows = report_rows(run)
    assert [r["slide_position"] for r in rows] == [1.0, 2.0]
    assert [r["partial"] for r in rows] == [4, 3]
    found = kept_resonances(to_bore(SPEC, slide_position=2.0), run.built.air)[2].frequency
    assert rows[1]["resonance_hz"] == pytest.approx(found, rel=1e-9)
    assert abs(rows[1]["cents_from_resonance"]) < 40


def test_a_valve_may_move_on_the_slide_s_own_tube(tmp_path):
    # one line with both: the fade from valve to valve is read twice, each with the slide's delay
    first = '{note = "Bb3", length_s = 0.5, slide_position = 1}'
    notes = (first, '{note = "D3", valves = "1", slide_position = 2}')
    path = slide_scene(tmp_path, phrase(*notes))
    both = SLIDE_BORE.replace("slide = true", "slide = true\nvalves = [[1, 1200]]")
    both = both.replace("[[section]]", "[valves]\nfirst_mm = 330\n\n[[section]]", 1)
    (tmp_path / "slide.toml").write_text(both, encoding="utf-8")
    run = performance.perform(read_scene(path))  # raises where a note is 3 cents off
    rows = report_rows(run)
    assert [(r["valves"], r["slide_position"]) for r in rows] == [("0", 1.0), ("1", 2.0)]
    # the resonance of the bore held so, measured 27 cents off by this valve's length; without
    # valve or slide the nearest is 100 cents off at least
    assert abs(rows[1]["cents_from_resonance"]) < 50
    # no step where the fade begins or ends: measured 0.65 of the steps within the note
    step = np.abs(np.diff(run.played.mouthpiece_pressure))
    move = int(run.gesture.moves[0][0] * RATE)
    assert step[move : move + 2400].max() < 0.9 * step[int(0.2 * RATE) : move].max()


def test_a_note_that_names_no_position_is_put_where_it_rests_in_tune(tmp_path):
    """Players move the slide until the note is in tune where the lips rest."""
    notes = [f'{{note = "{n}", length_s = 0.7}}' for n in ("F3", "E3", "C3")]
    run = played(tmp_path, phrase(*notes))
    for row, nominal in zip(report_rows(run), (1, 2, 6), strict=True):
        assert abs(row["slide_position"] - nominal) < 1
        # the resonance lies `resting_cents` below the note unless position 1 ends the slide
        rest = resting_cents(SPEC)
        if row["slide_position"] > 1.001:
            assert row["cents_from_resonance"] == pytest.approx(rest, abs=3.5)
