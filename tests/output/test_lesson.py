"""A lesson's page: complete, inert, and made even when a scene fails."""

import base64
import hashlib
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PIL import Image
from support import sample_report as sample
from support import small_lesson
from support.lesson_parts import made, section, take
from support.page_reader import Reader
from support.small_lesson import data_of

from lipmodel.output import lesson as lessons
from lipmodel.output.lesson import lesson_of, read_take
from lipmodel.output.pages.care import START_LOW
from lipmodel.output.pages.lesson.page import HERE, SCRIPTS
from lipmodel.output.pages.lesson.parts import in_cents
from lipmodel.output.pictures.image_file import figure_bytes
from lipmodel.output.pictures.style import new_figure
from lipmodel.output.render import Take, takes
from lipmodel.player.build import build
from lipmodel.player.performance import perform
from lipmodel.scene.lesson import Lesson
from lipmodel.scene.scene import Scene, read_scene
from lipmodel.studies import map_cells, map_sounds
from lipmodel.system.progress import Progress

pytestmark = pytest.mark.slow  # a whole lesson

COUNT = 3  # scenes of the short lesson


@pytest.fixture
def page(lesson):
    path, _ = lesson
    return path.read_text("utf-8")


def test_a_scene_that_fails_leaves_a_page_that_says_so(lesson, page):
    path, code = lesson
    assert code == 2
    assert sorted(p.suffix for p in path.parent.iterdir()) == [".html"] + [".toml"] * 4
    reader = Reader(page)
    assert len(re.findall(r'<section class="scene"', page)) == COUNT
    assert "Not played" in reader.inside("h3")
    assert any("broken.toml" in text for text in reader.inside("p"))


def test_everything_is_inside_and_only_the_one_script_may_run(page):
    reader = Reader(page)
    outside = [v for _, a in reader.tags for k, v in a.items() if k in ("src", "href")]
    assert all(v.startswith(("data:", "#scene", "#care")) for v in outside)
    assert "http" not in re.sub(r"base64,[^\"]*", "", page).replace("http-equiv", "")
    (policy,) = [a["content"] for a in reader.all("meta") if "http-equiv" in a]
    assert "default-src 'none'" in policy
    script = page.split("<script>")[1].split("</script>")[0]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy
    assert [a for a in reader.all("script")] == [{"type": "application/json", "id": "data"}, {}]


def test_text_of_the_scenes_is_text(page):
    reader = Reader(page)
    assert not any("onerror" in a for _, a in reader.tags)
    assert small_lesson.HOSTILE in reader.inside("h1")
    assert small_lesson.HOSTILE in reader.inside("h2")
    assert f"It holds. {small_lesson.HOSTILE}" in reader.inside("details")
    assert "<" not in page.split('id="data">')[1].split("</script>")[0]


def test_the_sound_comes_first_then_the_question_and_its_answer_is_closed():
    text = made(section())
    reader = Reader(text)
    assert {"class": "answer"} in reader.all("details")  # no "open"
    order = ['class="play"', "<audio", "Will it?", 'class="hands"', "Show the answer", "It will."]
    order += ["The air holds it.", "It waits.", "<summary>Figures"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert text.index(START_LOW) < places[0]


def test_contents_are_listed_where_there_are_several():
    assert not Reader(made(section())).all("nav")
    links = [a["href"] for a in Reader(made(section(), section(title="Two"))).all("a")]
    assert [link for link in links if link != "#care"] == ["#scene1", "#scene2"]


def test_the_worksheet_has_lines_and_the_answers_at_the_end():
    text = made(section(), section(answer="Never."))
    assert text.count('class="lines"') == 2
    assert text.index('class="answers"') > text.rindex('class="slide')
    told = ["A. It will. The air holds it.", "A. Never. The air holds it."]
    assert Reader(text).inside("dd")[-2:] == told
    assert text.count('class="staff"') == 2
    assert 'aria-label="Notes, usual fingering below: C5 0"' in text
    assert "Name <span></span> Date" in text


def test_choices_have_letters_and_places_for_hands():
    reader = Reader(made(section()))
    hands = [a for a in reader.all("input") if a.get("class") == "hands"]
    assert [a["aria-label"] for a in hands] == ["Hands for A: Yes", "Hands for B: No"]
    assert "A: Yes" in reader.inside("b")
    plain = made(section(choices=(), right=None))
    assert "Will it?" in plain
    assert 'class="hands"' not in plain.split("<script")[0]


def test_before_the_answer_no_name_of_a_picture_gives_it_away():
    text = made(section())
    chart = next(a for a in Reader(text).all("div") if a.get("class") == "chart fill")
    assert chart["aria-label"] == "Empty axis: pitch in Hz against time in s"
    assert "<svg" not in text[text.index('class="chart') : text.index('class="guess"')]


def test_sounds_of_a_comparison_share_one_stage():
    text = made(section(takes=[take(), take() | {"name": "no bell"}]))
    assert text.count('class="chart fill"') == 1
    switches = [a for a in Reader(text).all("button") if a.get("class") == "which"]
    assert [a["aria-pressed"] for a in switches] == ["true", "false"]
    takes = data_of(text)["stages"][0]["takes"]
    assert [t["name"] for t in takes] == ["as written", "no bell"]


def test_the_caution_is_said_once_and_marked_beside_each_loud_sound():
    loud = take(level=sample.report()["level"] | {"laf_max_db": 97.0})
    text = made(section(takes=[loud]), section(), section(takes=[loud]))
    reader = Reader(text)
    assert len([a for a in reader.all("div") if a.get("class") == "care"]) == 1
    assert text.count("Protect your hearing") == 1
    assert text.count("97 dB(A)") == 1 + 2


def test_every_control_has_a_name(page):
    reader = Reader(page)
    labelled = [p for p, text in reader.text if "label" in p and text.strip()]
    bare = [a for a in reader.all("input") if "aria-label" not in a]
    assert len(bare) <= len(labelled)
    for name in ("canvas", "audio", "img"):
        assert all(a.get("aria-label") or a.get("alt") for a in reader.all(name)), name


def test_the_numbers_that_matter_are_the_data():
    reader = Reader(made(section()))
    note = sample.notes()[0]
    cells = [text for path, text in reader.text if "td" in path]
    assert cells[:7] == [
        note["written"], note["sounding"], f"{note['frequency_hz']:.1f}", "11 cents flat",
        f"{note['lock']:.2f}: {in_cents(note['lock'])}", "locked", f"{note['pressure_kpa']:.1f}",
    ]  # fmt: skip
    said = " ".join(reader.inside("figcaption"))
    assert "lips and jet 77 %, walls 21 %, sound 1.4 %" in said
    assert "96 dB(A)" in " ".join(reader.inside("div"))


# 1 - (cents the pitch moves)/(cents the lip setting moves): the definition of lock
@pytest.mark.parametrize(("lock", "moves"), [(0.8, "20"), (1.0, "0"), (0.0, "100"), (-0.3, "130")])
def test_a_lock_is_told_in_cents(lock, moves):
    assert in_cents(lock) == f"pitch moves {moves} cents for 100 of the lips"
    assert in_cents(1.2) == "pitch moves 20 cents for 100 of the lips against them"


def test_same_lesson_same_page():
    assert made(section()) == made(json.loads(json.dumps(section(takes=[]))) | section())


def test_scripts_name_no_other_place():
    for name in (*SCRIPTS, "lesson.css"):
        text = (HERE / name).read_text("utf-8")
        assert not re.search(r"https?:|url\(|import\b|fetch\(|innerHTML|eval\(", text), name


def test_a_cell_is_told_as_it_sounds(page, lesson):
    walk = data_of(page)["maps"][0]
    scene = read_scene(lesson[0].parent / "walk.toml")
    built = build(scene, held=True)
    r, c = 2, 4
    played = map_cells.MapSetup(built.horn, built.bore, built.air, map_sounds.NOTE)
    tension, mouth = walk["tension_hz"][c], 1e3 * walk["pressure_kpa"][r]
    frequency, lock, _, _ = map_cells.play_cell(played, tension, mouth)
    cell = walk["cells"][r][c]
    assert cell["frequency_hz"] == pytest.approx(frequency, abs=0.01)
    assert cell["lock"] == pytest.approx(lock, abs=1e-9)
    line, told = map_sounds.row_heard(built, mouth, np.array([tension]))
    assert len(line) == round(map_sounds.APART * map_sounds.RATE)
    assert np.isfinite(told[0][0])


def test_silent_cells_are_silent_and_levels_are_relative(page):
    cells = [cell for row in data_of(page)["maps"][0]["cells"] for cell in row]
    assert None in cells
    levels = [cell["level_db"] for cell in cells if cell]
    assert max(levels) == 0.0
    assert min(levels) < -3.0


def test_a_take_without_a_pitch_shows_its_loudness():
    report = sample.report() | {"source": {"kind": "pop"}}
    figure = new_figure("A tube nobody blows", (4.0, 3.0))
    whole = figure_bytes(figure)
    found = read_take(
        Take("one", report, files={"sound.wav": sample.sound(), "picture.png": whole})
    )
    assert found["curves"]["kind"] == "level"
    # fewer colours, the same picture: measured half the bytes, 2 of 255 at most
    assert len(found["picture"]) < len(whole)
    pixels = [np.asarray(Image.open(io.BytesIO(p)).convert("L"), int)
              for p in (whole, found["picture"])]  # fmt: skip
    assert np.abs(pixels[0] - pixels[1]).max() < 12
    # a steady tone stays at its loudest
    assert min(found["curves"]["level_db"]) > -3.0
    assert found["waves"] == []


def test_a_page_too_large_to_send_leaves_pictures_out(monkeypatch):
    said = []
    small = section(takes=[take()])
    small["takes"][0]["picture"] = b"x" * 10_000
    monkeypatch.setattr(lessons, "_section", lambda *_: small)
    found = Lesson("T", "", ((Path("a.toml"),),))
    whole, _ = lessons.make_lesson(found, None, 1)
    assert 'class="whole"' in whole
    monkeypatch.setattr(lessons, "LARGEST", len(whole) - 1000)
    light, _ = lessons.make_lesson(found, None, 1, Progress(say=said.append))
    assert 'class="whole"' not in light
    assert said[0] == "Section 1 of 1: a"
    assert said[-1] == "left out the whole pictures, to keep the page small enough to send home"


def test_scenes_alone_make_a_lesson(lesson):
    note = lesson[0].parent / "note.toml"
    found = lesson_of([note])
    assert (found.title, found.scenes) == ("", (note,))


def test_one_lesson_and_more_scenes_are_one_page(lesson):
    folder = lesson[0].parent
    found = lesson_of([folder / "lesson.toml", folder / "note.toml"])
    assert [p.name for p in found.scenes] == ["note.toml", "broken.toml", "walk.toml", "note.toml"]


@pytest.mark.parametrize("rate", [48_000, 96_000])
def test_a_take_for_two_ears_is_heard_with_both(rate):
    tables = {"instrument": {"name": "trumpet"},
              "player": {"tension_hz": 425.0, "pressure_kpa": 8.0},
              "sound": {"length_s": 0.3, "rate_hz": rate}}  # fmt: skip
    scene = Scene.from_dict(tables).replace({"sound.room": "hall", "sound.stereo": True})
    variant = scene.variants[0]
    (take,) = takes("ears.toml", "out", cast=[(variant, perform(scene))])
    heard, found = soundfile.read(io.BytesIO(read_take(take)["sound"]))
    assert (heard.shape[1], found) == (2, 48_000)
    assert not np.allclose(heard[:, 0], heard[:, 1], atol=0.01)


def test_the_staff_has_the_slots_of_the_tube_or_the_notes_that_are_played():
    tables = {
        "instrument": {"name": "trumpet"},
        "player": {"tension_hz": 425.0, "pressure_kpa": 5.0},
    }
    swept = Scene.from_dict(tables)
    names = {2: ("C4", "Bb3"), 3: ("G4", "F4"), 7: ("Bb5", "Ab5"), 9: ("D6", "C6")}
    rows = [{"n": n, "written": w, "sounding": s} for n, (w, s) in names.items()]
    report = {"resonances": rows, "notes": [{"written": "B4", "sounding": "A4"}] * 2}
    # beginners' charts: C4 and G4 open; Bb5 is played with the first valve, not as the seventh
    # partial of the open tube; B4 with the second
    assert lessons.staff_notes(swept, report) == [("C4", "0"), ("G4", "0"), ("Bb5", "1")]
    tune = Scene.from_dict(tables | {"player": {"tune": "B4 1, B4 1"}})
    assert lessons.staff_notes(tune, report) == [("B4", "2")]
    hose = Scene.from_dict(tables | {"instrument": {"name": "hose"}})
    assert lessons.staff_notes(hose, report)[0][1] == ""


def test_every_note_of_a_scene_moves_in_the_tube():
    tables = {"instrument": {"name": "trumpet"}, "player": {"tune": "C4 1, G4 1, C4 1"},
              "notes": {"read_as": "sounding"}}  # fmt: skip
    scene = Scene.from_dict(tables)
    (made_take,) = takes("two.toml", "out", cast=[(scene.variants[0], perform(scene))], waves=True)
    waves = read_take(made_take)["waves"]
    assert [w["sounding"] for w in waves] == ["C4", "G4"]
    rows = made_take.report["notes"]
    for wave, row in zip(waves, rows, strict=False):
        assert wave["frequency_hz"] == pytest.approx(row["frequency_hz"], abs=1e-3)
        assert [h["n"] for h in wave["harmonics"]] == [*range(1, len(wave["harmonics"]) + 1)]
    text = made(section(takes=[read_take(made_take) | {"name": "as written"}]))
    labels = [note["label"] for note in data_of(text)["tubes"][0]]
    assert [label.split(",")[0] for label in labels] == ["C4", "G4"]
