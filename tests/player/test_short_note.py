"""One short note from rest: what the lips and the breath do."""

import numpy as np
import pytest
from support import horns

from lipmodel.player import short_note
from lipmodel.waveguide.time_loop import advance

trumpet = horns.trumpet  # the same fixture


@pytest.fixture
def blocks(monkeypatch):
    seen = []

    def watched(horn, state, block):
        seen.append(block)
        return advance(horn, state, block)

    monkeypatch.setattr(short_note, "advance", watched)
    return seen


def test_lips_come_from_below_and_breath_rises_and_falls(trumpet, blocks):
    short_note.play_note(trumpet, 400.0, 5e3, 0.2, release=0.05, tail=0.1)
    at = np.round(np.array([0.0, 0.03, 0.06, 0.15, 0.175, 0.2, 0.29]) * trumpet.rate).astype(int)
    (block,) = blocks
    assert len(block.mouth) == round(0.3 * trumpet.rate)
    assert block.tension[at] == pytest.approx([388, 394, 400, 400, 400, 400, 400])
    assert block.mouth[at] == pytest.approx([0, 5e3, 5e3, 5e3, 2.5e3, 0, 0])


def test_lips_go_on_slowly_from_a_setting_held_before(trumpet, blocks):
    _, state = short_note.play_note(trumpet, 380.0, 5e3, 0.7, before=400.0)
    at = np.round(np.array([0.0, 0.06, 0.3, 0.45, 0.6, 0.69]) * trumpet.rate).astype(int)
    assert blocks[0].tension[at] == pytest.approx([388, 400, 400, 390, 380, 380])
    assert state.time == pytest.approx(0.7)
