"""What a hand and a mute in the bell do to the resonances."""

import numpy as np
from support.music import AIR

from lipmodel.acoustics.resonances import resonances
from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.parts import with_obstacle


def frequencies(table=None, kind="hand", name="horn"):
    spec = instruments.spec(name)
    spec = with_obstacle(spec, kind, table) if table is not None else spec
    return np.array([r.frequency for r in resonances(to_bore(spec), AIR)])


def test_a_hand_lowers_the_horn_and_lets_it_keep_its_high_resonances():
    """Common practice, no published source: the hand flattens, and with it more partials hold."""
    bare, held = frequencies(), frequencies({"open_percent": 30.0, "depth_mm": 80.0})
    shift = 1200 * np.log2(held[1:10] / bare[1:10])
    assert np.all(shift < 0)
    assert shift.min() > -150
    assert len(held) >= len(bare)


def test_a_mute_changes_resonances_and_keeps_the_notes_apart():
    bare, muted = frequencies(name="trumpet"), frequencies({}, "mute", "trumpet")
    shift = 1200 * np.log2(muted[1:8] / bare[1:8])
    assert np.all(np.abs(shift) > 5)
    assert np.all(np.abs(shift) < 120)
