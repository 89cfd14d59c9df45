"""The listening page: complete in itself, true to the data, safe to open, easy to read."""

import base64
import json
import re

import pytest
from support import sample_report as sample
from support.page_reader import Reader

from lipmodel.output.pages.care import START_LOW
from lipmodel.output.pages.listen import GLOSSARY, MOST_ROWS, listen_page
from lipmodel.output.pages.why import why_page
from lipmodel.units import sharp_or_flat

PICTURE = b"\x89PNG made up"


def make(report=None, **changes):
    return listen_page((report or sample.report()) | changes, sample.sound(), "audio/wav", PICTURE)


def read(report=None, **changes):
    return Reader(make(report, **changes))


def cells(page):
    rows = page.split("<tbody")[1].split("</tbody>")[0].split("<tr")[1:]
    return [re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in rows]


def test_it_is_a_page_with_title_language_and_viewport():
    page = read()
    assert page.all("html") == [{"lang": "en"}]
    assert page.inside("title") == page.inside("h1") == ["Why notes snap"]
    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in page.all(
        "meta"
    )
    assert {"charset": "utf-8"} in page.all("meta")


def test_it_holds_sound_and_picture_and_asks_for_nothing_outside():
    text = make()
    page = Reader(text)
    assert "http" not in text
    (audio,), (image,) = page.all("audio"), page.all("img")
    kind, content = audio["src"].split(",")
    assert kind == "data:audio/wav;base64"
    assert base64.b64decode(content) == sample.sound()
    assert base64.b64decode(image["src"].removeprefix("data:image/png;base64,")) == PICTURE
    assert "controls" in audio
    assert {"id": audio["aria-labelledby"]} in page.all("p")
    outside = [v for _, a in page.tags for k, v in a.items() if k in ("src", "href")]
    assert all(v.startswith("data:") for v in outside)
    assert not page.all("script")
    assert "url(" not in text


def test_the_picture_is_told_in_words():
    (image,) = read().all("img")
    assert "C4 G4 C5 E5 G5 (written)" in image["alt"]
    assert "12 seconds" in image["alt"]


def test_the_question_comes_first_and_its_answer_is_hidden():
    text = make()
    page = Reader(text)
    assert page.all("details") == [{}]  # closed: no "open"
    assert "No: it holds, then jumps." in page.inside("details")
    assert text.count("No: it holds, then jumps.") == 1
    assert text.index("Will the pitch follow") < text.index("<details>") < text.index("<audio")


def test_without_question_there_is_none():
    page = read(inputs={})
    assert not page.all("details")
    assert "What to listen for" not in page.inside("h2")


def test_what_to_listen_for_and_sentences_are_shown():
    page = read()
    assert "The pitch waits, then jumps." in page.inside("p")
    assert page.inside("li")[:2] == sample.report()["sentences"]


def test_a_variant_says_what_changed():
    page = read(variant="no bell", changed=["instrument.bell: none instead of bell"])
    assert page.inside("h1") == ["Why notes snap: no bell"]
    assert "What changed" in page.inside("h2")
    assert "instrument.bell: none instead of bell" in page.inside("li")
    assert "What changed" not in read().inside("h2")


def test_every_number_in_the_table_is_the_data():
    expected = [
        [
            f"{n['start_s']:.2f}",
            n["written"],
            n["sounding"],
            f"{n['frequency_hz']:.1f}",
            sharp_or_flat(n["cents"]),
            str(n["partial"]),
            f"{n['lock']:.2f}",
            n["state"],
            f"{n['tension_hz']:.0f}",
            f"{n['pressure_kpa']:.1f}",
        ]
        for n in sample.notes()
    ]
    assert cells(make()) == expected


@pytest.mark.parametrize(
    ("lock", "told"), [(-1.23, "less than 0"), (0.0, "0.00"), (1.0, "1.00"), (1.35, "over 1")]
)
def test_a_lock_that_is_no_degree_of_holding_is_told_in_words(lock, told):
    (row,) = cells(make(notes=[{**sample.notes()[0], "lock": lock}]))
    assert row[6] == told
    meaning = dict(GLOSSARY)["lock"]
    assert "less than 0 that it moves further" in meaning
    assert "over 1 that it moves against them" in meaning


def test_a_scene_read_as_sounding_shows_sounding_first():
    report = sample.report()
    report["inputs"]["notes"]["read_as"] = "sounding"
    assert cells(make(report))[0][1:3] == ["Bb3", "C4"]


def test_what_is_not_known_is_a_dash():
    note = dict.fromkeys(sample.notes()[0]) | {"start_s": 0.0, "state": "silent"}
    row = cells(make(notes=[note]))[0]
    assert row == ["0.00", "–", "–", "–", "–", "–", "–", "silent", "–", "–"]


def test_long_tables_end_and_say_so():
    text = make(notes=sample.notes() * 6)
    assert len(cells(text)) == MOST_ROWS
    assert f"The first {MOST_ROWS} of 30 notes" in text


def test_levels_are_the_data():
    said = read().inside("li")
    assert "The sound file has a loudness of −16.0 LUFS." in said
    assert any("At 1 m" in s and "94.6 dB SPL" in s for s in said)
    assert any("96.4 dB(A)" in s for s in said)


def test_energy_is_the_data():
    said = " ".join(read().inside("li"))
    energy = sample.report()["energy"]
    for amount in ("14.3 J", "3.21 J", "3.00 J", "199 mJ", "11.1 J", "420 µJ"):
        assert amount in said
    assert f"({100 * energy['wall_j'] / energy['blown_j']:.0f} %)" in said
    assert f"({100 * energy['radiated_j'] / energy['blown_j']:.1f} %)" in said
    assert "leave 0.083 % of what was blown unaccounted for" in said


def test_shares_are_never_written_in_powers_of_ten():
    energy = {"blown_j": 1.0, "into_bore_j": 0.9999, "wall_j": 1e-9, "stored_j": 0.0}
    text = make(energy=energy)
    said = " ".join(Reader(text).inside("li"))
    assert "1.00 J (100 %)" in said
    assert "under 0.01 µJ (under 0.01 %)" in said
    assert "0 J (0 %)" in said


def test_caution_comes_before_the_sound():
    text = make()
    assert text.index(START_LOW) < text.index("<audio")


def test_hearing_is_protected_over_85_only():
    loud = " ".join(read().inside("div"))
    assert "At 1 m from the open end the real instrument would reach 96 dB(A)" in loud
    assert "85 dB(A) for 8 hours a day (NIOSH)" in loud
    level = sample.report()["level"] | {"laf_max_db": 85.0}
    assert read(level=level).inside("div") == [START_LOW]


def test_silence_is_a_page_too():
    quiet, _ = sample.silence()
    page = read(quiet)
    assert "No steady note." in page.inside("p")
    assert "no sound" in page.all("img")[0]["alt"]
    assert "Where the energy went" not in page.inside("h2")
    assert "How loud" not in page.inside("h2")


def test_text_of_the_scene_is_text():
    nasty = "<script>alert(\"x\")</script> & 'so' \N{TRUMPET}"
    report = sample.report()
    for key in ("ask", "answer", "listen_for"):
        report["inputs"][key] = f"{key} {nasty}"
    report |= {"title": nasty, "variant": nasty, "sentences": [nasty], "changed": [nasty]}
    report["notes"][0] |= {"written": nasty, "state": nasty}
    page = read(report)
    assert not page.all("script")
    assert page.inside("h1") == [f"{nasty}: {nasty}"]
    for key in ("ask", "answer", "listen_for"):
        assert f"{key} {nasty}" in page.inside("main")
    assert nasty in page.inside("td")
    assert nasty in page.all("img")[0]["alt"]
    assert page.all("audio")[0]["title"] == f"{nasty}: {nasty}"


def test_words_are_explained():
    terms = read().inside("dt")
    assert terms == [word for word, _ in GLOSSARY]
    needed = ("resonance", "partial", "harmonic", "slot", "lip setting", "lock", "locked", "bent")
    assert set(terms) >= {*needed, "free"}


def test_headings_are_one_h1_and_then_h2():
    levels = [tag for tag, _ in read().tags if re.fullmatch(r"h\d", tag)]
    assert levels[0] == "h1"
    assert set(levels[1:]) == {"h2"}


def test_same_run_same_page():
    again = json.loads(json.dumps(sample.report()))  # as it comes back from report.json
    assert make() == make(again)


@pytest.mark.parametrize("pattern", [r"/work", r"/home", r"/tmp", r"20\d\d-\d\d"])
def test_no_place_and_no_clock(pattern):
    shown = re.sub(r"base64,[^\"]*", "", make())
    assert not re.search(pattern, shown)


def test_a_name_is_safe_on_the_page():
    document = {"what": "<b>", "note": {"written": "C4"}, "reasons": [], "sentences": ["a < b"]}
    page = why_page(document, {}, "audio/flac")
    assert "<b>" not in page
    assert "a &lt; b" in page
