"""Parts taken away, put back and exchanged."""

import pytest
from support.bore_files import CUP, TRUMPET, cylinder

from lipmodel.bore import instruments
from lipmodel.bore.bore_file import parse_bore
from lipmodel.bore.parts import parts, with_part, without_part
from lipmodel.errors import SceneError


def test_parts_are_taken_away_put_back_and_exchanged():
    assert parts(TRUMPET) == ("mouthpiece", "leadpipe", "bell")
    assert parts(without_part(TRUMPET, "bell")) == ("mouthpiece", "leadpipe")
    assert with_part(TRUMPET, "bell", "none") == without_part(TRUMPET, "bell")
    late = with_part(TRUMPET, "bell", instruments.part("bell", "late"))
    # the built-in bell is in three sections, the late one in one
    assert [s.label for s in late.section] == [s.label for s in TRUMPET.section][:-2]
    assert late.section[-1].flare == instruments.part("bell", "late").section[0].flare
    deep = instruments.part("mouthpiece", "deep")
    headless = without_part(TRUMPET, "mouthpiece")
    assert with_part(headless, "mouthpiece", deep) == with_part(TRUMPET, "mouthpiece", deep)
    with pytest.raises(SceneError, match=r'"Plain pipe.*" has no bell; it has: mouthpiece'):
        without_part(instruments.spec("pipe"), "bell")


def test_a_part_brings_its_end_or_player():
    flanged = TRUMPET.model_copy(update={"end": "flanged"})
    late = instruments.part("bell", "late")  # its file names no end
    assert with_part(flanged, "bell", late).end == "flanged"
    named = parse_bore({"end": "flanged", "section": [cylinder(name="bell")]}, "b.toml", ".")
    assert with_part(TRUMPET, "bell", named).end == "flanged"
    big = parse_bore({"player": "large", "section": [CUP]}, "m.toml", ".")
    assert with_part(TRUMPET, "mouthpiece", big).player == "large"


def test_a_bell_may_be_changed_by_name_or_by_instrument():
    spec = instruments.spec("trumpet")
    for kind in ("gradual", "late"):
        changed = with_part(spec, "bell", instruments.part("bell", kind))
        assert changed.section == instruments.spec(f"trumpet_{kind}_bell").section
    assert without_part(spec, "bell").section == instruments.spec("trumpet_no_bell").section
