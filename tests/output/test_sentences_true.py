"""Scenes made to refute what is told of them; every sentence is worked out once more."""

import pytest
from support.hard_sentences import HARD
from support.meter import off_target
from support.true_changes import untold
from support.true_sentences import missing, untrue

from lipmodel.commands.main import main
from lipmodel.files.audio import read_sound
from lipmodel.output.render import render

pytestmark = pytest.mark.slow  # each scene is rendered


@pytest.mark.parametrize("name", HARD)
def test_what_is_told_is_so(name, tmp_path):
    text, expected, never = HARD[name]
    path = tmp_path / "harbour.toml"
    path.write_text(text, "utf-8")
    takes = render(path, tmp_path / "out")
    for take in takes:
        report = {**take.report, "sound": read_sound(take.folder / "sound.wav")}
        assert untrue(report) + missing(report) + untold(takes[0].report, report) == []
        assert off_target(take.folder, report) == []
        said = " ".join(report["sentences"])
        assert [words for words in never if words in said] == []
    told = [f"Changed: {'; '.join(takes[-1].changed)}. All else was held.", *takes[-1].sentences]
    assert [sentence for sentence in expected if sentence not in told] == []


def test_a_rest_alone_is_refused(tmp_path, capsys):
    path = tmp_path / "rest.toml"
    path.write_text('[instrument]\nname = "trumpet"\n[player]\ntune = "- 4"\n')
    assert main(["render", str(path), "--out", str(tmp_path / "out")]) == 2
    assert 'player.tune = "- 4": expected at least one note' in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_the_scenes_are_many():
    assert len(HARD) >= 20


@pytest.fixture(scope="module")
def note(tmp_path_factory):
    folder = tmp_path_factory.mktemp("note")
    (folder / "note.toml").write_text(HARD["lips and breath stand still"][0])
    (take,) = render(folder / "note.toml", folder / "out")
    return take.report


@pytest.mark.parametrize(
    ("so", "not_so"),
    [
        ("one note: C5", "two notes: C5 C5"), ("C5 (written).", "D5 (written)."),
        ("would raise it by 1.", "would lower it by 1."), ("8 cents flat", "8 cents sharp"),
        ("open end;", "bell;"), ("10.2 % left", "10.6 % left"), (" at 1 m:", " at 2 m:"),
    ],
)  # fmt: skip
def test_a_false_sentence_is_found(note, so, not_so):
    assert untrue(note) == []
    said = [s.replace(so, not_so) for s in note["sentences"]]
    assert said != note["sentences"]
    assert len(untrue({**note, "sentences": said})) == 1


def test_what_is_left_out_of_the_changes_is_found(tmp_path):
    path = tmp_path / "harbour.toml"
    path.write_text(HARD["two causes at once"][0], "utf-8")
    first, other = (take.report for take in render(path, tmp_path / "out"))
    assert len(other["changed"]) == 3
    for number in range(3):
        kept = [words for i, words in enumerate(other["changed"]) if i != number]
        assert len(untold(first, {**other, "changed": kept})) == 1
