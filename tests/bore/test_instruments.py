"""The built-in instruments and teaching bores: which there are, and their published proportions."""

import pytest
from reference.tune_instruments import PUBLISHED
from support.bore_files import TRUMPET
from support.built_in import PLAYED

from lipmodel.bore import instruments
from lipmodel.bore.valves import valve_numbers


def test_the_teaching_bores_share_the_mouthpiece_of_the_trumpet():
    teaching = [n for n in instruments.names() if instruments.spec(n).kind == "teaching"]
    assert len(teaching) == 13
    for name in teaching:
        assert instruments.spec(name).section[0] == TRUMPET.section[0]
    assert instruments.instrument("trumpet", "13").length > instruments.instrument("trumpet").length


def test_names_that_end_in_a_number_are_counted():
    family = [name for name in instruments.names() if name.startswith("conical")]
    assert family == [f"conical_{share}" for share in (0, 25, 50, 75, 100)]


def test_the_instruments_are_there():
    assert set(PLAYED) == {
        "trumpet", "cornet", "flugelhorn", "tenor_horn", "baritone", "euphonium", "tuba",
        "trombone", "horn",
    }  # fmt: skip
    teaching = {
        "bugle", "pipe", "hose", "cone", "hailing_cone", "mouthpiece", "conical_0", "conical_25",
        "conical_50", "conical_75", "conical_100", "trumpet_no_bell", "trumpet_gradual_bell",
        "trumpet_late_bell",
    }  # fmt: skip
    assert teaching <= set(instruments.names())
    assert len(valve_numbers(instruments.spec("euphonium"))) == 4
    assert not valve_numbers(instruments.spec("bugle"))


@pytest.mark.parametrize("name", PUBLISHED)
def test_taper_cylinder_and_bell_have_the_published_proportions(name):
    sections = instruments.spec(name).section[1:]
    total = sum(s.length_mm for s in sections)
    parts = [
        sum(s.length_mm for s in sections if s.name == "leadpipe"),
        sum(s.length_mm for s in sections if s.shape == "cylinder"),
        sum(s.length_mm for s in sections if s.name == "bell"),
    ]
    assert sum(parts) == pytest.approx(total)
    for found, published in zip(parts, PUBLISHED[name], strict=True):
        assert abs(100 * found / total - published) < 10
