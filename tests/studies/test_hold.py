"""What is held between variants: lips, pitch and effort."""

import numpy as np
import pytest
from support.compared_scenes import CUP, PHRASE, POP, STEADY, SWEPT, WARM, variants

from lipmodel.analysis.threshold import threshold
from lipmodel.errors import SceneError
from lipmodel.player.performance import CLOSE_ENOUGH
from lipmodel.studies.hold import moments, play_variants
from lipmodel.units import cents

CORNET = '[[variant]]\nname = "cornet"\ninstrument.name = "cornet"\n'


# ---- what is held


def test_lips_and_breath_are_those_of_the_first_on_every_tube(tmp_path):
    first, deep = play_variants(variants(tmp_path, PHRASE + CUP), "lips")
    assert np.array_equal(first.performance.tension, deep.performance.tension)
    assert np.array_equal(first.performance.mouth, deep.performance.mouth)
    # and so the deep cup is heard: its notes move by more than an ear's 5 cents (common practice)
    found = [moments(h.performance, h.variant, "lips") for h in (first, deep)]
    moved = [cents(b.frequency, a.frequency) for a, b in zip(*found, strict=True)]
    assert all(abs(m) > 5 for m in moved)


def test_what_a_variant_says_itself_is_not_held(tmp_path):
    text = PHRASE + '[[variant]]\nname = "higher"\nplayer.tune = "E5 1"\n'
    _, higher = play_variants(variants(tmp_path, text), "lips")
    assert "set for the notes that it plays" in higher.adapted[0]


@pytest.mark.parametrize("text", [STEADY + WARM, PHRASE + CUP])
def test_pitch_is_held(tmp_path, text):
    takes = list(play_variants(variants(tmp_path, text), "pitch"))
    first, *others = (moments(h.performance, h.variant, "pitch") for h in takes)
    for other in others:
        for a, b in zip(first, other, strict=True):
            # each may be off by what a phrase may
            assert abs(cents(b.frequency, a.frequency)) < 2 * CLOSE_ENOUGH
            assert b.mouth == a.mouth
            assert abs(cents(b.tension, a.tension)) > 5  # the lips had to move for that


def test_pitch_is_the_sounding_one_on_a_horn_in_another_key(tmp_path):
    text = PHRASE.replace("C5 1, A4 1", "C5 1")
    text += '[[variant]]\nname = "horn in Eb"\ninstrument.name = "tenor_horn"\n'
    first, other = play_variants(variants(tmp_path, text), "pitch")
    (a,), (b,) = (moments(h.performance, h.variant, "pitch") for h in (first, other))
    assert abs(cents(b.frequency, a.frequency)) < 2 * CLOSE_ENOUGH


@pytest.mark.parametrize("text", [STEADY + CUP, PHRASE + CORNET])
def test_effort_is_held(tmp_path, text):
    efforts = []
    for take in play_variants(variants(tmp_path, text), "effort"):
        built = take.performance.built
        efforts.append(
            [
                m.mouth
                / threshold(m.bore, built.air, built.horn.lips, m.tension, m.frequency).pressure
                for m in moments(take.performance, take.variant, "effort")
            ]
        )
    # the search stops at half a percent
    assert efforts[1] == pytest.approx(efforts[0], rel=0.006)
    assert min(efforts[0]) > 1.0


OTHER = PHRASE + '[[variant]]\nname = "other"\nplayer.tune = "E5 1, A4 1"\n'
MIXED = (
    PHRASE + '[[variant]]\nname = "still"\nplayer.tension_hz = 420.0\nplayer.pressure_kpa = 8.0\n'
)
SOFT = STEADY + '[[variant]]\nname = "soft"\nplayer.pressure_kpa = 0.4\n'


@pytest.mark.parametrize(
    ("hold", "text", "told"),
    [
        ("lips", POP, "has a [source]: --hold lips needs the lips of a [player]"),
        ("pitch", SWEPT, "lips or slide are swept: --hold pitch needs one steady note"),
        ("effort", SWEPT, "lips or slide are swept: --hold effort needs one steady note"),
        ("pitch", OTHER, 'variant "other": plays other notes than the first sound'),
        ("pitch", MIXED, 'variant "still": --hold pitch needs scenes of one kind'),
        ("pitch", SOFT, 'variant "soft": no lip setting plays'),
    ],
)
def test_a_hold_without_sense_is_one_line(tmp_path, hold, text, told):
    with pytest.raises(SceneError) as caught:
        list(play_variants(variants(tmp_path, text), hold))
    (problem,) = caught.value.problems
    assert problem.startswith(str(tmp_path / "scene.toml"))
    assert told in problem
    assert "\n" not in problem
