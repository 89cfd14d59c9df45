"""Why a note is out of tune: the sum of causes, published figures, remedies, and both sounds."""

import json
import re

import numpy as np
import pytest
import soundfile
from support.music import AIR

from lipmodel.acoustics.resonances import resonances
from lipmodel.air import Air
from lipmodel.analysis.pitch import steady_pitch
from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.instruments import FOLDER
from lipmodel.commands.main import main
from lipmodel.lips import PLAYERS
from lipmodel.studies.causes import published_sentence, sentences_of
from lipmodel.units import cents, note_frequency, parse_note

KEYS = {"note", "valves", "cents", "reasons", "remedies", "sentences"}
# an instrument with one valve, of generic dimensions
VALVE = """
title = "One valve"
kind = "instrument"
fundamental = "Bb2"
player = "small"
[valves]
first_mm = {first}
{section}
"""


def answer(capsys, *argv) -> dict:
    """The one JSON object of `lipmodel why`."""
    assert main(["why", *argv, "--json"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    return json.loads(told.out)


def by_cause(found) -> dict:
    return {reason["cause"]: reason["cents"] for reason in found["reasons"]}


@pytest.fixture
def slide(tmp_path):
    path = tmp_path / "slide.toml"
    path.write_text(
        'title = "Slide"\nkind = "instrument"\nfundamental = "Bb1"\nplayer = "large"\n'
        '[[section]]\nshape = "cylinder"\nlength_mm = 1700\ndiameter_mm = 13.9\nslide = true\n'
        '[[section]]\nshape = "bessel"\nlength_mm = 950\nstart_diameter_mm = 13.9\n'
        "end_diameter_mm = 200\nflare = 0.6\n"
    )
    return str(path)


SUMS = [
    ("D4", "trumpet"), ("C#4", "trumpet"), ("E5", "trumpet"), ("C5", "trumpet"),
    ("A4", "trumpet", "--valves", "3"), ("D4", "trumpet", "--celsius", "10"),
    ("G5", "trumpet", "--valves", "13"), ("A4", "pipe", "--celsius", "20"),
]  # fmt: skip


@pytest.mark.parametrize("asked", SUMS, ids=" ".join)
def test_the_reasons_add_up_to_what_is_played(capsys, asked):
    note, what, *more = asked
    found = answer(capsys, note, "--on", what, *more)
    assert set(found) >= KEYS
    assert found["cents"] == pytest.approx(sum(by_cause(found).values()), abs=0.01)
    celsius = float(more[1]) if "--celsius" in more else 22.0
    pull = found["tuning_slide_pull_mm"]
    bore = to_bore(instruments.spec(what), valves=found["valves"], tuning_slide_pull_mm=pull)
    resonance = resonances(bore, Air.at(celsius))[found["partial"] - 1].frequency
    target = note_frequency(parse_note(found["note"]["sounding"]))
    # played notes rest -5 to 60 cents above their resonance (README: model and players)
    assert found["cents"] == pytest.approx(cents(resonance, target) + found["rest_cents"])
    assert -5 < found["rest_cents"] < 60
    assert found["rests"]["mf"] == pytest.approx(found["cents"])


def test_each_reason_is_what_it_says(capsys):
    found = answer(capsys, "D4", "--on", "trumpet")
    assert found["note"] == {"sounding": "C4", "written": "D4"}
    assert found["valves"] == "13"
    causes = by_cause(found)
    assert causes["valve combination"] == pytest.approx(30.32, abs=0.01)
    assert causes["harmonic"] == pytest.approx(1.955, abs=0.001)  # a pure fifth (textbook)
    fifth = by_cause(answer(capsys, "E5", "--on", "trumpet"))
    assert fifth["harmonic"] == pytest.approx(-13.686, abs=0.001)  # a pure third (textbook)
    assert "valve combination" not in fifth
    # the fitted series of the open trumpet: by their mean its resonances 2 to 8 are on it
    open_notes = {"C4": 2, "G4": 3, "C5": 4, "E5": 5, "G5": 6, "C6": 8}
    off = {}
    for note, partial in open_notes.items():
        one = answer(capsys, note, "--on", "trumpet", "--valves", "0")
        assert one["partial"] == partial
        off[partial] = by_cause(one)["resonance in the series"]
    bore = to_bore(instruments.spec("trumpet"), tuning_slide_pull_mm=one["tuning_slide_pull_mm"])
    found = [r.frequency for r in resonances(bore, AIR)]
    base = np.exp(np.mean([np.log(found[n - 1] / n) for n in range(2, 9)]))
    assert off[3] == pytest.approx(cents(found[2], 3 * base))


def test_the_seventh_partial_is_told_when_asked_for(capsys):
    found = answer(capsys, "A5", "--on", "trumpet", "--valves", "2")
    assert found["partial"] == 7
    assert by_cause(found)["harmonic"] == pytest.approx(-31.174, abs=0.001)  # textbook


def test_cold_air_is_told_apart(capsys):
    warm, cold = (answer(capsys, "D4", "--on", "trumpet", "--celsius", t) for t in ("22", "12"))
    causes = by_cause(cold)
    # 3.1 cents a degree (tests/test_cli.py: textbook and Air)
    assert causes.pop("temperature") == pytest.approx(-31, abs=1)
    # lips rest against colder air within a cent of where they do in warm air
    assert causes == pytest.approx(by_cause(warm), abs=1.0)
    assert any(s.startswith("Air at 12 degrees C instead of 22 ") for s in cold["sentences"])


def test_a_longer_valve_is_told_as_the_valves_length(capsys, tmp_path):
    section = (
        '[[section]]\nshape = "cylinder"\nlength_mm = 700\ndiameter_mm = 11.7\n'
        "valves = [[1, 300]]\n"
        '[[section]]\nshape = "bessel"\nlength_mm = 640\nstart_diameter_mm = 11.7\n'
        "end_diameter_mm = 122\nflare = 0.5\n"
    )
    path, seen = tmp_path / "valve.toml", []
    for first in (165, 175):
        path.write_text(VALVE.format(first=first, section=section))
        seen.append(answer(capsys, "Ab4", "--on", str(path)))
    before, after = (by_cause(found) for found in seen)
    moved = after["valve lengths"] - before["valve lengths"]
    # 10 mm of some 1.34 m + 165 mm, plus the end correction: -1200 log2(1 + 10/1550) = -11
    assert moved == pytest.approx(-11, abs=1)
    same = {"harmonic", "resonance in the series", "whole instrument"}
    assert all(after[cause] == pytest.approx(before[cause]) for cause in same)
    played = seen[1]["cents"] - seen[0]["cents"]
    assert played == pytest.approx(moved, abs=2)  # the mode shifts by another 1.0 (measured)


def test_a_bore_that_is_no_instrument_is_explained_by_the_resonance_near_the_note(capsys, tmp_path):
    path = tmp_path / "valve.toml"
    section = (
        '[[section]]\nshape = "cylinder"\nlength_mm = 900\ndiameter_mm = 11.7\n'
        'valves = [[1, 300]]\n[[section]]\nshape = "cone"\nlength_mm = 440\n'
        "start_diameter_mm = 11.7\nend_diameter_mm = 60\n"
    )
    text = VALVE.format(first=165, section=section).replace('kind = "instrument"', "")
    path.write_text(text)
    seen = 0
    for note in ("Ab4", "C5", "Eb5", "F5", "Ab5"):
        found = answer(capsys, note, "--on", str(path))
        if found["cents"] is not None:
            seen += 1
            assert abs(found["cents"]) <= 100
            assert found["cents"] == pytest.approx(sum(by_cause(found).values()), abs=0.01)
    assert seen >= 2


def test_small_reasons_are_left_out_of_the_sentences(capsys):
    found = answer(capsys, "C#4", "--on", "trumpet")
    told = " ".join(found["sentences"])
    assert "The three valves together add too little tube: 54 cents sharp." in told
    assert "0 cents" not in re.sub(r"\d0 cents", "", told)
    from lipmodel.studies.causes import Reason

    reasons = [Reason("a", 0.4, "little"), Reason("b", -3, "less"), Reason("c", 9, "much")]
    assert sentences_of(reasons) == ["much", "less"]


def test_published_cents_are_compared_for_two_fingerings(capsys):
    for note, long, exact in (("D4", 15, 30), ("C#4", 38, 54), ("G3", 15, 30), ("F#3", 38, 54)):
        found = answer(capsys, note, "--on", "trumpet")
        assert found["published"]["long_third_valve_cents"] == long
        assert found["published"]["exact_valves_cents"] == exact
        said = [
            s for s in found["sentences"] if s.startswith("Published of the second partial (an ")
        ]
        near = min(abs(found["cents"] - long), abs(found["cents"] - exact)) <= 15
        told = "the model agrees" in said[0], "disagrees" in said[0]
        assert told == (near, not near)
    assert answer(capsys, "A4", "--on", "trumpet")["published"] is None
    assert "70 cents sharp and disagrees" in published_sentence(found["published"], 70.0)
    assert "agrees within 15" in published_sentence(found["published"], 24.0)


# what helps


def test_the_third_slide_puts_it_right(capsys):
    found = answer(capsys, "D4", "--on", "trumpet", "--celsius", "26")
    remedy = next(r for r in found["remedies"] if r["do"].startswith("third slide out"))
    assert found["cents"] + remedy["cents"] == pytest.approx(remedy["leaves_cents"])
    mm = float(re.search(r"(\d+) mm", remedy["do"])[1])
    assert 0 < mm <= 25
    pull = found["tuning_slide_pull_mm"]
    bore = to_bore(instruments.spec("trumpet"), valves="13", third_slide_pull_mm=mm,
                   tuning_slide_pull_mm=pull)  # fmt: skip
    resonance = resonances(bore, Air.at(26.0))[2].frequency
    off = cents(resonance, note_frequency(parse_note("C4"))) + found["rest_cents"]
    assert off == pytest.approx(remedy["leaves_cents"], abs=1.2)  # mm are rounded: 0.9 cent


def test_no_remedy_goes_further_than_it_can(capsys):
    found = answer(capsys, "C#4", "--on", "trumpet", "--celsius", "40")
    assert found["cents"] > 60  # 3.1 cents a degree: out of reach of every single one
    moves = {r["do"].split()[0]: r for r in found["remedies"]}
    assert "25 mm, as far as it goes" in moves["third"]["do"]
    assert moves["lip"]["cents"] == -30
    assert moves["third"]["leaves_cents"] > 5


def test_a_note_in_tune_needs_nothing(capsys, tmp_path):
    path = tmp_path / "scene.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[player]\ntune = "C4 1"\n'
        '[notes]\nread_as = "sounding"\na4_hz = {a4}\n'
    )
    text, told = path.read_text(), {}
    for a4 in (440.0, 442.0, 443.0):
        path.write_text(text.format(a4=a4))
        found = answer(capsys, "Bb4", "--on", str(path))
        assert found["note"] == {"sounding": "Bb4", "written": "C5"}
        left_alone = "In tune within 5 cents: leave it." in found["sentences"]
        told[a4] = left_alone
        assert left_alone == (abs(found["cents"]) < 5) == (found["remedies"] == [])
    assert set(told.values()) == {True, False}  # 8 and 12 cents apart


def test_a_slide_is_moved_to_where_it_is_in_tune(capsys, slide):
    found = answer(capsys, "Ab3", "--on", slide)
    assert found["slide_position"] == 3
    assert found["cents"] == pytest.approx(sum(by_cause(found).values()), abs=0.01)
    remedy = found["remedies"][0]
    assert re.match(r"slide to position [\d.]+ instead of 3", remedy["do"])
    assert abs(remedy["leaves_cents"]) < 0.06  # 0.05 is where the search stops


def test_a_high_note_needs_breath(capsys):
    found = answer(capsys, "G6", "--on", "trumpet")
    needs = PLAYERS["small"].threshold_per_hz * 1396.9 / 1e3  # F6 (ISO 16)
    assert needs > 10
    assert found["needs_kpa"] == pytest.approx(needs, rel=1e-4)
    assert f"It needs at least {needs:.0f} kPa to speak." in found["sentences"]
    assert found["remedies"][-1]["do"] == f"more breath: at least {needs:.1f} kPa"
    assert not any("kPa" in s for s in answer(capsys, "G4", "--on", "trumpet")["sentences"])


def test_a_weak_resonance_is_told(capsys):
    found = answer(capsys, "A4", "--on", "pipe")
    peaks = resonances(to_bore(instruments.spec("pipe")), AIR)
    strength = peaks[found["partial"] - 1].magnitude / max(p.magnitude for p in peaks)
    assert found["strength"] == pytest.approx(strength)
    assert any("is weak" in s for s in found["sentences"]) == (strength < 1 / 3)


# what is not there


IMPOSSIBLE = {
    "under the compass": ("F3", "trumpet", "below the lowest note, written Gb3 "),
    "below the open pedal": ("D3", "trumpet", "below the lowest note, written Gb3 "),
    "too high": ("C#7", "trumpet", "above the 16th partial"),
    "no resonance": ("C7", "trumpet", "no resonance there"),
    "no valves": ("B4", "pipe", "no valves and no slide"),
}


@pytest.mark.parametrize(("note", "what", "words"), IMPOSSIBLE.values(), ids=IMPOSSIBLE)
def test_an_impossible_note_is_explained(capsys, note, what, words):
    found = answer(capsys, note, "--on", what)
    assert found["cents"] is None
    assert found["reasons"] == []
    assert "impossible" in found["sentences"][0]
    assert words in found["sentences"][0].replace("C#", "Db").replace("F#", "Gb")
    assert found["remedies"]
    assert all(re.match(r"play .* instead", r["do"]) for r in found["remedies"])


@pytest.mark.parametrize(("note", "what"), [("C3", "trumpet"), ("Bb1", "trombone")])
def test_a_pedal_note_is_told_as_one_that_little_holds(capsys, note, what):
    found = answer(capsys, note, "--on", what)
    assert found["partial"] == 1
    assert found["cents"] is None  # nothing says where it rests
    assert "a pedal note. Little holds it" in found["sentences"][0]
    # the lock of a slot is 0.5 and more (README); none: a nudge makes it jump
    lock = found["pedal"]["lock"]
    assert lock is None or lock < 0.5
    assert found["sentences"][1] == f"In the model it speaks from {found['pedal']['from']} on."


@pytest.mark.slow
def test_the_horn_goes_up_to_its_sixteenth_partial(capsys):
    found = answer(capsys, "C6", "--on", "horn")
    assert (found["partial"], found["valves"]) == (16, "0")
    assert abs(found["cents"]) < 50  # the sixteenth harmonic is a C (textbook)
    assert by_cause(found)["harmonic"] == 0


def test_a_slide_position_is_asked_for(capsys, slide):
    usual = answer(capsys, "Ab3", "--on", slide)
    found = answer(capsys, "Ab3", "--on", slide, "--position", "3")
    assert found == usual
    further = answer(capsys, "Ab3", "--on", slide, "--position", "3.2")
    # a fifth of a semitone of tube; the bell makes that 15 to 25 cents
    assert found["cents"] - further["cents"] == pytest.approx(20, abs=5)
    wrong = answer(capsys, "Ab3", "--on", slide, "--position", "2")
    assert "impossible at position 2; it lies at 3" in wrong["sentences"][0]
    assert wrong["remedies"][0]["do"].startswith("play it at position 3 (")


def test_a_note_is_named_as_written_or_as_it_sounds(capsys):
    written = answer(capsys, "D4", "--on", "trumpet")
    assert answer(capsys, "sounding:C4", "--on", "trumpet") == written
    assert answer(capsys, "written:D4", "--on", "trumpet") == written


@pytest.mark.slow
def test_no_remedy_is_as_bad_as_the_trouble(capsys):
    for note, what in (("C#4", "trumpet"), ("G5", "trumpet"), ("C#3", "tuba"), ("Ab3", "tuba")):
        found = answer(capsys, note, "--on", what)
        off = abs(found["cents"])
        assert bool(found["remedies"]) == (off >= 5)
        for remedy in found["remedies"]:
            assert abs(remedy["leaves_cents"]) < off
            if "play it" in remedy["do"]:
                assert abs(remedy["leaves_cents"]) <= off / 2
            # nobody's finger reaches the third slide of a tuba
            assert what == "trumpet" or "third slide" not in remedy["do"]


@pytest.mark.slow
def test_the_horn_is_helped_by_the_hand_and_no_slide(capsys):
    found = answer(capsys, "F5", "--on", "horn")
    assert found["cents"] > 5
    told = [r["do"] for r in found["remedies"]]
    assert any(words.startswith("hand in the bell, ") for words in told)
    assert not any("first slide" in words or "third slide" in words for words in told)


@pytest.mark.slow
def test_the_fourth_valve_is_told_where_it_is_nearer_by_half(capsys, tmp_path):
    built_in = (FOLDER / "euphonium.toml").read_text("utf-8")
    longer = tmp_path / "longer.toml"  # 9 cents of a tube of 3.9 m are 20 mm
    longer.write_text(built_in.replace("fourth_mm = 987.0", "fourth_mm = 1007.0"), "utf-8")
    for horn, note, usual, fourth, better in (
        ("euphonium", "G3", "13", "4", False),
        ("euphonium", "F#3", "123", "24", False),
        (str(longer), "G3", "13", "4", True),
    ):
        found = answer(capsys, note, "--on", horn, "--valves", usual)
        other = answer(capsys, note, "--on", horn, "--valves", fourth)
        told = {o["do"] for o in found["remedies"]}
        assert (abs(other["cents"]) <= abs(found["cents"]) / 2) is better
        valves = "valve 4" if fourth == "4" else "valves 2-4"
        assert (f"play it with {valves}" in told) is better


def test_low_valved_notes_are_sharp_as_players_find_them(capsys):
    # 37.9 and 14.7 cents: an article on valve-combination tuning, stated for partial 2; 2-3 about
    # right (common practice, no published source).  Measured 31, 16 and 4
    for note, players in (("F#3", 37.9), ("G3", 14.7), ("Ab3", 0.0)):
        found = answer(capsys, note, "--on", "trumpet")
        sharp = found["rests"]["mf"]
        assert abs(sharp - players) < 25
        if players:
            assert sharp > 0
            assert found["tendency"]["agrees"] is True
    agreed = answer(capsys, "D4", "--on", "trumpet")
    assert agreed["tendency"]["agrees"] is True
    assert any("(common practice, no published source): the model agrees." in s
               for s in agreed["sentences"])  # fmt: skip


def test_valves_that_cannot_make_the_note_are_told_with_those_that_can(capsys):
    found = answer(capsys, "D4", "--on", "trumpet", "--valves", "2")
    assert (found["cents"], found["reasons"], found["valves"]) == (None, [], "2")
    # B3 is the open C4 a semitone lower
    assert "impossible with valve 2, lowering the open notes by 1 semitone" in found["sentences"][0]
    assert "written B3" in found["sentences"][0]
    usual = answer(capsys, "D4", "--on", "trumpet")["cents"]
    assert found["remedies"][0]["do"].startswith("play it with valves 1-3")
    assert found["remedies"][0]["leaves_cents"] == pytest.approx(usual)
    assert found["remedies"][0]["cents"] == pytest.approx(300, abs=60)


REFUSED = {
    "no note": (["H4", "--on", "trumpet"], r'NOTE "H4": expected a note such as .*'),
    "small": (["d4", "--on", "trumpet"], r'NOTE "d4": expected a note such as .* "D"'),
    "too low": (["C-1", "--on", "trumpet"], r'NOTE "C-1": expected a note that sounds .*'),
    "unknown": (["D4", "--on", "tromba"], "tromba: expected one of .*"),
    "no valve 4": (["D4", "--on", "trumpet", "--valves", "4"], "--valves 4: no valve 4 on .*"),
    "no slide": (["D4", "--on", "trumpet", "--position", "2"], "--position 2: .* has no slide"),
    "off the slide": (["D4", "--on", "trombone", "--position", "8"], "--position 8: .* 1 to 7"),
    "read otherwise": (["heard:D4", "--on", "trumpet"], r'NOTE "heard:D4": expected "written:".*'),
    "no valves": (["D4", "--on", "trumpet", "--valves", "x"], "--valves x: expected valves .*"),
    "too cold": (["D4", "--on", "pipe", "--celsius=-1"], "--celsius -1: expected a number .*"),
    "here": (["F3", "--on", "trumpet", "--out", "."], r"\.: holds the folder you are in; .*"),
}


@pytest.mark.parametrize(("words", "message"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_asked_is_refused_in_one_line(capsys, tmp_path, monkeypatch, words, message):
    monkeypatch.chdir(tmp_path)
    assert main(["why", *words]) == 2
    told = capsys.readouterr()
    assert re.fullmatch(message + r"\n", told.err), told.err
    assert told.out == ""
    assert list(tmp_path.iterdir()) == []


def test_without_on_there_is_nothing_to_ask():
    with pytest.raises(SystemExit) as caught:
        main(["why", "D4"])
    assert caught.value.code == 2


# the sounds


def test_both_sounds_are_heard_where_they_are_told(tmp_path, capsys):
    folder = tmp_path / "d4"
    assert main(["why", "D4", "--on", "trumpet", "--out", str(folder)]) == 0
    assert f"Wrote {folder / 'why.html'} and why.json beside it" in capsys.readouterr().out
    assert sorted(p.name for p in folder.iterdir()) == [
        "as_held.wav", "remedy.wav", "why.html", "why.json",
    ]  # fmt: skip
    found = json.loads((folder / "why.json").read_text("utf-8"))
    best = min(abs(r["leaves_cents"]) for r in found["remedies"])
    pitches = {}
    for name in ("as_held", "remedy"):
        samples, rate = soundfile.read(folder / f"{name}.wav")
        part = 1e3 * samples[int(0.9 * rate) : int(1.4 * rate)]
        pitches[name] = cents(steady_pitch(part, rate, floor=20.0), note_frequency(60))
    # within 0.7 cent by the search for the lip setting, 0.1 by the ladder
    assert pitches["as_held"] == pytest.approx(found["cents"], abs=1.5)
    assert abs(pitches["remedy"]) == pytest.approx(best, abs=2.5)  # 1 cent between like remedies
    page = (folder / "why.html").read_text("utf-8")
    assert "http" not in page
    assert page.count("<audio ") == 2
    assert "Start with the volume low" in page


def test_an_impossible_note_has_a_page_without_sound(tmp_path):
    folder = tmp_path / "f3"
    assert main(["why", "F3", "--on", "trumpet", "--out", str(folder)]) == 0
    assert sorted(p.name for p in folder.iterdir()) == ["why.html", "why.json"]
    assert "<audio " not in (folder / "why.html").read_text("utf-8")


def test_no_player_is_sent_to_three_valves_or_a_far_slide_for_a_few_cents(capsys):
    """E5 5 cents flat is lipped; A5 and Bb5 have slides of their own; D4 in fourth position, not
    in seventh."""
    told = {}
    for note, name in (
        ("E5", "trumpet"),
        ("A5", "trumpet"),
        ("Bb5", "trumpet"),
        ("D4", "trombone"),
    ):
        found = answer(capsys, note, "--on", name)
        told[note] = [r["do"] for r in found["remedies"] if r["do"].startswith("play it")]
    assert (told["E5"], told["A5"], told["Bb5"]) == ([], [], [])
    assert len(told["D4"]) == 1
    assert told["D4"][0].startswith("play it with position 4")


def test_the_tuning_slide_is_moved_for_all_notes_or_for_none(capsys):
    """In a warm room it is set already, whatever one note does; cold air asks for as much as it
    takes the open notes down."""
    sharp = answer(capsys, "Bb1", "--on", "tuba")
    assert sharp["cents"] > 10
    assert not any("tuning slide" in r["do"] for r in sharp["remedies"])
    cold = answer(capsys, "E5", "--on", "trumpet", "--celsius", "10")
    moved = next(r for r in cold["remedies"] if "tuning slide in" in r["do"])
    # 1200 log2 of the ratio of the speeds of sound, sqrt(283.15/295.15)
    # the slide is left alone within 5 cents
    assert moved["cents"] == pytest.approx(35.9, abs=3 + 5)
    assert cold["remedies"][0] == moved


def test_a_slide_that_ends_is_told(capsys):
    out, home = (answer(capsys, note, "--on", "trombone")["sentences"] for note in ("B2", "D4"))
    assert "In the model the slide ends at position 7." in out
    assert "At position 1 the slide is as far in as it goes." in home
