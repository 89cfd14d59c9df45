"""Cautions: each where it must stand, and none where nothing can hurt."""

import pytest
from support import sample_report as sample

from lipmodel.output.pages.care import (
    BLOWING,
    CHILDREN,
    EDGES,
    FIRE,
    HYGIENE,
    START_LOW,
    cautions,
    marks,
    of_all,
    once,
)
from lipmodel.output.pages.listen import listen_page
from lipmodel.output.pages.live.words import WORDS


def take(breath=3.0, loud=70.0, kind="instrument", source=None):
    player = None if source else {"pressure_kpa": [[0.0, 0.0], [1.0, breath]]}
    return {
        "inputs": {"player": player, "sound": {"distance_m": 1.0}}, "bore": {"kind": kind},
        "level": {"laf_max_db": loud}, "notes": [], "source": source and {"kind": source},
    }  # fmt: skip


def test_a_soft_note_on_an_instrument_needs_one_word_only():
    assert cautions(take()) == [START_LOW]


@pytest.mark.parametrize(
    ("report", "needed"),
    [
        (take(breath=12.0), {BLOWING}),
        (take(loud=96.0), {CHILDREN}),
        (take(kind="teaching"), {EDGES, HYGIENE}),
        (take(kind=None), {EDGES, HYGIENE}),
        (take(source="flame"), {FIRE}),
    ],
)
def test_what_can_hurt_is_told(report, needed):
    told = set(cautions(report))
    assert needed <= told
    assert not ({BLOWING, CHILDREN, EDGES, HYGIENE, FIRE} - needed) & told


def test_the_limit_is_told_with_the_level():
    (text,) = [t for t in cautions(take(loud=96.4)) if "96 dB(A)" in t]
    assert text.startswith("At 1 m from the open end")
    assert "85 dB(A) for 8 hours a day (NIOSH)" in text


def test_fire_comes_before_everything():
    assert cautions(take(source="flame"))[0] == FIRE


def test_a_page_of_several_sounds_says_each_once():
    told = of_all([take(breath=12.0), take(breath=14.0), take(kind="teaching")])
    assert len(told) == len(set(told))
    assert {START_LOW, BLOWING, EDGES, HYGIENE} <= set(told)


def test_the_one_box_of_a_page_tells_the_loudest_and_each_sound_has_its_mark():
    reports = [take(loud=96.0), take(loud=104.0, breath=12.0), take(kind="teaching")]
    told = once(reports)
    assert told[:2] == [START_LOW, CHILDREN]
    assert ["104 dB(A)" in text for text in told].count(True) == 1
    assert not any("96 dB(A)" in text for text in told)
    assert {BLOWING, EDGES, HYGIENE} <= set(told)
    assert marks(reports[:1]) == ["Loud: 96 dB(A)"]
    assert marks(reports[:2]) == ["Loud: 104 dB(A)", "Do not blow this hard"]
    assert marks([take()]) == []


def test_cautions_stand_before_the_sound_and_the_picture():
    report = sample.report()
    report["inputs"]["player"] = {"pressure_kpa": 30.0}
    page = listen_page(report, sample.sound(), "audio/flac", b"png")
    assert page.index("dizzy") < page.index("<audio")
    assert page.index("dizzy") < page.index("<img")


def test_the_live_horn_says_what_a_body_must_not_do():
    for words in (START_LOW, CHILDREN, "dizzy or faint"):
        assert words in WORDS["care"]
