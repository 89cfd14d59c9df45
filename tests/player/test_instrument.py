"""An instrument as it is played: its partials and its brassiness."""

import pytest
from support.music import AIR

from lipmodel.bore import instruments
from lipmodel.bore.instruments import instrument, spec
from lipmodel.player.instrument import Setup, brassiness_of


def test_a_bore_with_valves_but_no_name_for_its_first_partial_is_charted():
    # kind "teaching" is the default of a bore file: its resonances are looked for by pitch
    spec = instruments.spec("trumpet").model_copy(update={"kind": "teaching"})
    assert not Setup(spec, AIR).natural
    assert Setup(instruments.spec("pipe"), AIR).natural


@pytest.mark.parametrize(
    ("name", "low", "high"), [("trombone", 0.6, 0.8), ("flugelhorn", 0.4, 0.55)]
)
def test_brassiness_tells_the_families_apart(name, low, high):
    # ranges of A. Myers et al. (2010), from memory
    assert low < brassiness_of(spec(name), instrument(name), AIR) < high
