"""Charts of every note: played cents against the resonances themselves, slides, the sheet."""

import csv
import json
import re

import pytest
from support.beginners_chart import CHART
from support.music import AIR

from lipmodel.acoustics.resonances import resonances
from lipmodel.air import Air
from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import read_bore_file
from lipmodel.commands.main import main
from lipmodel.errors import SceneError
from lipmodel.output.pages.chart import LONGEST_LINE, ROOM_MM, chart_page
from lipmodel.player.fingering import Way
from lipmodel.player.instrument import Instrument, load_instrument
from lipmodel.player.tuning import tuned_position
from lipmodel.units import cents, note_frequency, parse_note

NOTE_KEYS = {"sounding", "written", "frequency_hz", "options"}
OPTION_KEYS = {
    "valves", "slide_position", "partial", "cents", "usual", "cents_unpulled", "resonance_hz",
    "first_slide_pull_mm", "third_slide_pull_mm", "tuned_position", "rest_cents", "rests",
    "pedal", "tendency",
}  # fmt: skip
# a tube of nine feet with a slide: generic dimensions, common practice, no published source
SLIDE = """
title = "Slide of the harbour class"
kind = "instrument"
fundamental = "Bb1"
compass = ["E2", "Bb4"]
player = "large"
{more}
[[section]]
name = "mouthpiece"
shape = "mouthpiece"
rim_diameter_mm = 25.0
cup_depth_mm = 20.0
cup_volume_ml = 7.0
throat_diameter_mm = 6.5
throat_length_mm = 4.0
backbore_length_mm = 60.0
backbore_end_diameter_mm = 12.0
[[section]]
shape = "cylinder"
length_mm = 1700.0
diameter_mm = 13.9
slide = true
[[section]]
shape = "bessel"
length_mm = 900.0
start_diameter_mm = 13.9
end_diameter_mm = 200.0
flare = 0.6
"""


def answer(capsys, *argv) -> dict:
    """The one JSON object that a command prints."""
    assert main([*argv, "--json"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    return json.loads(told.out)


@pytest.fixture(scope="module")
def trumpet(tmp_path_factory):
    """The folder of `chart trumpet --out`."""
    folder = tmp_path_factory.mktemp("chart") / "trumpet"
    assert main(["chart", "trumpet", "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def chart(trumpet):
    return json.loads((trumpet / "chart.json").read_text("utf-8"))


@pytest.fixture
def slide(tmp_path):
    """Path of a bore file with a slide; `more` adds keys."""

    def write(more=""):
        path = tmp_path / "slide.toml"
        path.write_text(SLIDE.format(more=more))
        return path

    return write


def test_the_chart_has_the_keys_of_the_contract(chart):
    assert chart["what"] == "School trumpet"
    for note in chart["notes"]:
        assert set(note) == NOTE_KEYS
        for option in note["options"]:
            assert set(option) == OPTION_KEYS


def test_the_usual_fingering_comes_first_for_every_note(chart):
    names = [note["sounding"] for note in chart["notes"]]
    numbers = [parse_note(name) for name in names]
    assert numbers == list(range(parse_note("E3"), parse_note("Bb5") + 1))
    beginners = {parse_note(name): valves for name, valves in CHART.items()}
    for note in chart["notes"]:
        first, *others = note["options"]
        assert first["valves"] == beginners[parse_note(note["written"])], note["written"]
        assert first["usual"]
        assert not any(option["usual"] for option in others)
        far = [abs(option["cents"]) for option in others]
        assert far == sorted(far)
        assert parse_note(note["sounding"]) == parse_note(note["written"]) - 2  # in B flat


def test_played_cents_are_those_of_the_resonance_and_the_rest_above_it(chart):
    bore = to_bore(instruments.spec("trumpet"), valves="13",
                   tuning_slide_pull_mm=chart["tuning_slide_pull_mm"])  # fmt: skip
    found = resonances(bore, AIR)
    for note in chart["notes"]:
        for option in (o for o in note["options"] if o["valves"] == "13"):
            resonance = found[option["partial"] - 1].frequency
            assert option["resonance_hz"] == pytest.approx(resonance)
            above = option["cents_unpulled"]
            above -= cents(resonance, note_frequency(parse_note(note["sounding"])))
            assert option["rest_cents"] == pytest.approx(above)
            assert -10 < above < 70  # measured: -4 to 36
            assert option["rests"]["mf"] == pytest.approx(option["cents_unpulled"])
            assert set(option["rests"]) == ({"p", "mf", "f"} if option["usual"] else {"mf"})


def test_valve_slides_are_pulled_until_the_note_is_in_tune_or_they_end(chart):
    spec, seen = instruments.spec("trumpet"), 0
    for note in chart["notes"]:
        for option in note["options"][:2]:
            first, third = option["first_slide_pull_mm"], option["third_slide_pull_mm"]
            allowed = {"12": (15, 0), "13": (0, 25), "123": (0, 25)}.get(option["valves"], (0, 0))
            assert first <= allowed[0]
            assert third <= allowed[1]
            if option["cents_unpulled"] <= 0:
                assert first == third == 0
                assert option["cents"] == option["cents_unpulled"]
            pull = first or third
            if not pull:
                continue
            seen += 1
            if pull < max(allowed):
                assert abs(option["cents"]) < 0.06  # 0.05 is where the search stops
            bore = to_bore(spec, valves=option["valves"], first_slide_pull_mm=first,
                           third_slide_pull_mm=third,
                           tuning_slide_pull_mm=chart["tuning_slide_pull_mm"])  # fmt: skip
            resonance = resonances(bore, AIR)[option["partial"] - 1].frequency
            off = cents(resonance, note["frequency_hz"]) + option["rest_cents"]
            # pulls are told to 0.1 mm, up to 0.1 cent each way; the peak search adds 0.1
            assert off == pytest.approx(option["cents"], abs=0.3)
    assert seen >= 3


@pytest.mark.slow
def test_colder_air_makes_every_note_of_the_chart_flatter(capsys, chart):
    cold = answer(capsys, "chart", "trumpet", "--celsius", "12")
    assert cold["celsius"] == 12.0
    for before, after in zip(chart["notes"], cold["notes"], strict=True):
        warm = {o["valves"]: o["cents_unpulled"] for o in before["options"] if o["usual"]}
        for option in (o for o in after["options"] if o["usual"]):
            # 3.1 cents a degree (tests/test_cli.py: textbook and Air), and what lips rest by
            # against other losses (measured: up to 3.0)
            moved = option["cents_unpulled"] - warm[option["valves"]]
            assert moved == pytest.approx(-31, abs=4)


# other instruments


def test_a_pipe_has_its_resonances_only(capsys):
    found = answer(capsys, "chart", "pipe")
    shown = {n["options"][0]["partial"]: n for n in found["notes"] if n["options"]}
    assert set(shown) <= set(range(2, 9))
    assert [n for n in found["notes"] if not n["options"]]
    peaks = resonances(to_bore(instruments.spec("pipe")), AIR)
    for partial, note in shown.items():
        (option,) = note["options"]
        off = cents(peaks[partial - 1].frequency, note["frequency_hz"]) + option["rest_cents"]
        assert option["cents"] == pytest.approx(off)
        assert -75 < off <= 75  # the nearest note by a rest of 25, played: up to 25 more
    assert main(["chart", "pipe"]) == 0
    assert re.search(r"-\s+not on this instrument\n", capsys.readouterr().out)


@pytest.mark.slow
def test_a_slide_is_put_where_the_note_is_in_tune(capsys, slide):
    path = slide()
    found, spec = answer(capsys, "chart", str(path)), read_bore_file(path)
    assert found["slide"]
    usual = [(n, n["options"][0]) for n in found["notes"] if n["options"]]
    usual = [(n, o) for n, o in usual if not o["pedal"]]
    assert [o["slide_position"] for n, o in usual if n["sounding"] in ("E2", "Bb2")] == [7, 1]
    inside = 0
    for note, option in usual[::3]:  # a search for resonances takes half a second
        position = option["tuned_position"]
        assert 1 <= position <= 7
        bore = to_bore(spec, slide_position=position)
        resonance = resonances(bore, AIR)[option["partial"] - 1].frequency
        off = cents(resonance, note["frequency_hz"]) + option["rest_cents"]
        # a position is told to 0.01, half of which is half a cent; the peak search adds 0.2
        assert off == pytest.approx(option["cents"], abs=0.8)
        if 1 < position < 7 and abs(position - option["slide_position"]) < 0.99:
            inside += 1
            assert abs(option["cents"]) < 0.06
    assert inside >= 4


def test_the_tuned_position_stays_within_the_slide(slide):
    trombone = Instrument(read_bore_file(slide()), AIR)
    way = Way("0", 3.0, 4)
    free = tuned_position(trombone, way, note_frequency(parse_note("Ab3")))
    higher = tuned_position(trombone, way, note_frequency(parse_note("Ab3") + 0.2))
    # 20 cents higher is a fifth of a position further in; the bell makes that 0.15 to 0.25
    assert free - higher == pytest.approx(0.2, abs=0.05)
    assert tuned_position(trombone, Way("0", 1.0, 4), 2000.0) == 1.0
    short = read_bore_file(slide("slide_travel_mm = 200"))
    end = tuned_position(Instrument(short, AIR), Way("0", 7.0, 2), note_frequency(parse_note("E2")))
    length = to_bore(short).length
    assert to_bore(short, slide_position=end).length - length == pytest.approx(0.4, abs=1e-6)
    with pytest.raises(SceneError, match="no slide"):
        tuned_position(load_instrument("trumpet"), Way("0", 2.0, 4), 440.0)


@pytest.mark.slow
def test_a_short_slide_lacks_its_low_notes(capsys, slide):
    found = answer(capsys, "chart", str(slide("slide_travel_mm = 200")))
    notes = {n["sounding"]: n["options"] for n in found["notes"]}
    assert notes["E2"] == []
    assert notes["A2"][0]["slide_position"] == 2


@pytest.mark.slow
def test_a_bore_file_without_a_compass_gets_its_lowest_to_its_eighth(capsys, slide):
    path = slide()
    path.write_text(path.read_text().replace('compass = ["E2", "Bb4"]', ""))
    notes = answer(capsys, "chart", str(path))["notes"]
    plain = [n["sounding"] for n in notes if not (n["options"] and n["options"][0]["pedal"])]
    assert (plain[0], plain[-1]) == ("E2", "Bb4")
    # pedal notes on top of it, where the lips find them: the open one and three below
    below = {n["sounding"] for n in notes} - set(plain)
    assert below <= {"Bb1", "A1", "Ab1", "G1"}
    assert "Bb1" in below


@pytest.mark.slow
def test_a_scene_brings_tuning_pitch_and_spelling(capsys, tmp_path):
    path = tmp_path / "scene.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\ntuning_slide_pull_mm = 10\n[player]\ntune = "C4 1"\n'
        '[notes]\na4_hz = 432\nspelling = "sharps"\n[air]\ntemperature_c = 30\n'
    )
    found = answer(capsys, "chart", str(path))
    assert (found["a4_hz"], found["celsius"]) == (432, 30)
    by_name = {n["sounding"]: n for n in found["notes"]}
    note = by_name["A#4"]
    bore = to_bore(instruments.spec("trumpet"), tuning_slide_pull_mm=10.0)
    resonance = resonances(bore, Air.at(30.0))[3].frequency
    off = cents(resonance, note_frequency(parse_note("Bb4"), 432))
    first = note["options"][0]
    assert first["cents"] == pytest.approx(off + first["rest_cents"])
    assert (found["tuning_slide_pull_mm"], found["tuning"]) == (10.0, "")  # as the scene says


# what is written


def test_the_table_is_listed_for_people(capsys, chart):
    assert main(["chart", "trumpet"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "School trumpet, 22 degrees C"
    if chart["tuning"]:
        assert lines.pop(1) == chart["tuning"]
    lines.insert(1, "")
    assert lines[2].split()[:4] == ["written", "sounding", "Hz", "valves"]
    table = lines[3 : 3 + len(chart["notes"])]
    assert lines[3 + len(table)].startswith("What players find sharp or flat (common practice")
    row = next(line for line in lines if line.startswith("D4 "))
    assert row.split()[:4] == ["D4", "C4", "261.63", "1-3"]
    assert all(re.search("sharp|flat|in tune", line) for line in table)
    # usual ways are told from soft to loud
    assert all(re.search(r"at p to .* at f", line) for line in table)


def test_the_csv_has_a_line_for_every_option(trumpet, chart):
    with open(trumpet / "chart.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    options = [(n["sounding"], o) for n in chart["notes"] for o in n["options"]]
    assert len(rows) == len(options)
    for row, (name, option) in zip(rows, options, strict=True):
        assert (row["sounding"], row["valves"]) == (name, option["valves"])
        assert float(row["cents"]) == pytest.approx(option["cents"])


def test_the_page_is_complete_in_itself_and_fits_one_sheet(trumpet, chart):
    text = (trumpet / "chart.html").read_text("utf-8")
    assert "http" not in text
    assert "size: A4" in text
    assert text.count("<tr ") == 1 + len(chart["notes"])
    assert text.index(">C6<") < text.index(">C4<")
    for count in (len(chart["notes"]), 45, 60):
        many = {**chart, "notes": (chart["notes"] * 2)[:count]}
        page = chart_page(many)
        row = float(re.search(r"--row: ([\d.]+)mm", page)[1])
        assert row * (count + 1) <= ROOM_MM
        # one line each: what stands in the last column never wraps the row
        cells = re.findall(r'class="more"[^>]*>([^<]*)<', page)
        assert len(cells) == count
        assert max(map(len, cells)) <= LONGEST_LINE + 10


def test_a_name_is_safe_on_the_page(chart):
    page = chart_page({**chart, "what": "<b>&"})
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;" in page


REFUSED = {
    "unknown": (["chart", "tromba"], r"tromba: expected one of .*"),
    "too cold": (["chart", "trumpet", "--celsius=-1"], r"--celsius -1: expected a number .*"),
    "here": (["chart", "pipe", "--out", "."], r"\.: holds the folder you are in; .*"),
}


@pytest.mark.parametrize(("argv", "message"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_charted_is_refused_in_one_line(
    capsys, tmp_path, monkeypatch, argv, message
):
    monkeypatch.chdir(tmp_path)
    assert main(argv) == 2
    told = capsys.readouterr()
    assert re.fullmatch(message + r"\n", told.err), told.err
    assert told.out == ""
    assert list(tmp_path.iterdir()) == []
