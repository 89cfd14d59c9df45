"""What players find sharp or flat, by sign, and what is said about it."""

import pytest

from lipmodel.player.fingering import Way
from lipmodel.player.instrument import load_instrument
from lipmodel.studies.tendencies import ARTICLE, PRACTICE, tendency

# common practice, no published source: fifth and seventh partial flat, sixth sharp, 1-2 slightly
# sharp, 1-3 sharp, 1-2-3 very sharp; a fifth partial with 1-2 comes out about right
KNOWN = [
    ("trumpet", "0", 5, "flat"), ("trumpet", "0", 6, "sharp"), ("trumpet", "2", 7, "very flat"),
    ("trumpet", "12", 4, "slightly sharp"), ("trumpet", "13", 3, "sharp"),
    ("tuba", "123", 3, "very sharp"), ("euphonium", "0", 6, "sharp"),
    ("trombone", "0", 7, "very flat"),
    ("horn", "0", 11, "very flat"), ("trumpet", "12", 5, None), ("trumpet", "0", 4, None),
    ("trumpet", "0", 1, None), ("pipe", "0", 5, None),
]  # fmt: skip


@pytest.mark.parametrize(("name", "valves", "partial", "words"), KNOWN)
def test_players_find_it(name, valves, partial, words):
    found = tendency(load_instrument(name), Way(valves, 1.0, partial))
    assert (found and found.words) == words
    if found:
        assert found.source == PRACTICE
        assert (found.cents > 0) == ("sharp" in words)


def test_the_model_agrees_by_sign():
    sharp = tendency(load_instrument("trumpet"), Way("13", 1.0, 3))
    assert sharp.agrees(12.0) is True
    assert sharp.agrees(-12.0) is False
    assert sharp.agrees(4.9) is None
    assert sharp.sentence(-50.0).endswith("the model disagrees with players here.")
    assert sharp.row(-50.0)["agrees"] is False


def test_what_an_article_says_is_told_with_its_partial():
    found = tendency(load_instrument("trumpet"), Way("123", 1.0, 2))
    # 37.9 cents, stated for partial 2
    assert (found.source, found.cents) == (ARTICLE, pytest.approx(37.9, abs=0.5))
    assert "partial 2" in found.sentence(40.0)
