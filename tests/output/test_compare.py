"""A set to compare: equally loud and long, complete, and the same again."""

import json

import pyloudnorm
import pytest
import soundfile
from support import small_compare
from support.compared_scenes import COLD, STEADY, document_of, scene
from support.page_reader import Reader

from lipmodel.files import tables
from lipmodel.output.compare import compare

pytestmark = pytest.mark.slow  # whole comparisons


def test_the_sounds_written_are_equally_loud_and_long(compared):
    document = document_of(compared)
    for row in document["sounds"]:
        samples, rate = soundfile.read(compared / row["file"])
        assert rate == document["rate_hz"]
        assert soundfile.info(compared / row["file"]).subtype == "PCM_24"
        assert len(samples) == round(document["length_s"] * rate)
        # the contract asks for 0.1 LU; 24 bits and rounding leave less than a thousandth
        level = pyloudnorm.Meter(rate).integrated_loudness(samples)
        assert level == pytest.approx(document["loudness_lufs"], abs=0.01)
        assert tables.digest((compared / row["file"]).read_bytes()) == row["sha256"]


# ---- the command


def test_the_folder_is_complete(compared):
    expected = {"compare.json", "listen.html", "blind.html", "picture.png"}
    assert {p.name for p in compared.iterdir()} == expected | {f"sound.{n}.wav" for n in (1, 2, 3)}
    assert not list(compared.parent.glob(".*"))


def test_same_scenes_same_set(tmp_path):
    class Studio:
        @staticmethod
        def finish(take):
            from lipmodel.output.take_files import take_files

            return take_files(take)

    path = scene(tmp_path, STEADY + COLD)
    sets = [compare([path], None, Studio)["document"]["set"] for _ in range(2)]
    assert sets[0] == sets[1]


# ---- pages


@pytest.mark.parametrize("name", ["listen", "blind"])
def test_text_of_the_scenes_is_text(compared, name):
    text = (compared / f"{name}.html").read_text("utf-8")
    reader = Reader(text)
    bad = {"onerror", "onload"}
    assert not any(bad & set(attributes) for _, attributes in reader.tags)
    assert any(small_compare.NAME in t for _, t in reader.text)
    assert any(small_compare.HOSTILE in t for _, t in reader.text)
    (policy,) = [a["content"] for a in reader.all("meta") if "http-equiv" in a]
    assert policy.startswith("default-src 'none'")


def test_the_blind_page_holds_no_answers(compared):
    text = (compared / "blind.html").read_text("utf-8")
    data = json.loads(text.split('id="data">')[1].split("</script>")[0])
    expected = {"title", "version", "set", "seed", "rate_hz", "loudness_lufs", "sounds"}
    assert set(data) == expected
    assert all(set(s) == {"name", "sha256", "flac"} for s in data["sounds"])
