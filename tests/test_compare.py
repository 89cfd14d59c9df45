"""`lipmodel compare`: one loudness, one start, what is held, and what blind answers say."""

import json
import re

import numpy as np
import pyloudnorm
import pytest
import small_compare
import soundfile
from scipy import stats
from test_pages import Reader

from lipmodel.analysis.threshold import threshold
from lipmodel.commands.main import main
from lipmodel.errors import SceneError
from lipmodel.files import tables
from lipmodel.output.compare import make, variants_of
from lipmodel.player.performance import CLOSE_ENOUGH
from lipmodel.scene.scene import read_scene
from lipmodel.sound import alignment
from lipmodel.studies import blind_test
from lipmodel.studies.blind_results import read_session, read_sessions, sentences
from lipmodel.studies.hold import held, moments
from lipmodel.units import cents

RATE = 48_000
STEADY = """
title = "One note"
[instrument]
name = "trumpet"
[player]
pressure_kpa = 8.0
tension_hz = 420.0
[sound]
length_s = 1.0
"""
PHRASE = """
[instrument]
name = "trumpet"
[player]
dynamic = "mf"
tempo_bpm = 120
tune = "C5 1, A4 1"
"""
COLD = '[[variant]]\nname = "cold"\nair.temperature_c = 10.0\n'
CUP = '[[variant]]\nname = "deep"\ninstrument.mouthpiece = "deep"\n'
CORNET = '[[variant]]\nname = "cornet"\ninstrument.name = "cornet"\n'


def scene(tmp_path, text, name="scene"):
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def variants(tmp_path, text):
    return [v for v, _ in variants_of([scene(tmp_path, text)])]


def document_of(folder):
    return json.loads((folder / "compare.json").read_text("utf-8"))


# ---- one start, one length, one loudness


def tone(start, length, level, frequency=440.0):
    """A tone that begins at `start` s, rising in 20 ms."""
    time = np.arange(int(length * RATE)) / RATE
    rise = np.clip((time - start) / 0.02, 0, 1)
    return level * rise * np.sin(2 * np.pi * frequency * time)


def test_sounds_start_together_and_last_as_long():
    starts = (0.05, 0.31, 0.1)
    even = alignment.evened([tone(s, 1.5 + s, 3.0) for s in starts], RATE, -20.0)
    assert len({len(e.samples) for e in even}) == 1
    # the windows step by 1 ms
    assert np.ptp([e.onset - s for e, s in zip(even, starts, strict=True)]) <= 1.01e-3
    begins = [alignment.onset(e.samples, RATE) for e in even]
    assert np.ptp(begins) <= 1.01e-3


def test_a_crescendo_starts_where_it_starts():
    time = np.arange(2 * RATE) / RATE
    growing = tone(0.1, 2.0, 1.0) * 10 ** (1.5 * (time - 0.1) / 1.9)  # by 30 dB
    # the level is 12 dB down about 5 ms into a rise of 20 ms, and the window is 20 ms
    assert alignment.onset(growing, RATE) == pytest.approx(0.105, abs=0.01)


@pytest.mark.parametrize("levels", [(1.0, 0.1, 30.0), (0.02, 0.02, 0.02)])
def test_sounds_are_equally_loud(levels):
    even = alignment.evened([tone(0.1, 2.0, a, 200.0 * a**0.1) for a in levels], RATE, -18.0)
    for found in even:
        # BS.1770 allows a meter 0.1 LU; pyloudnorm on the same samples differs by rounding only
        assert pyloudnorm.Meter(RATE).integrated_loudness(found.samples) == pytest.approx(
            -18.0, abs=0.01
        )
    taken = [even[0].gain_db - e.gain_db for e in even]
    # K weighting is flat within 0.2 dB from 150 to 300 Hz (BS.1770-4, figure 4)
    assert taken == pytest.approx([20 * np.log10(a / levels[0]) for a in levels], abs=0.3)


def test_where_one_peak_does_not_fit_all_are_lowered_alike():
    click = tone(0.1, 2.0, 1e-3)
    click[RATE] = 1.0
    even = alignment.evened([tone(0.1, 2.0, 1.0), click], RATE, -18.0)
    assert [e.limited for e in even] == [False, True]
    assert even[0].lufs == even[1].lufs < -18.0
    assert max(e.true_peak_dbtp for e in even) == pytest.approx(-1.0, abs=1e-9)
    for found in even:
        level = pyloudnorm.Meter(RATE).integrated_loudness(found.samples)
        assert level == pytest.approx(found.lufs, abs=0.01)


def test_silence_is_refused_by_number():
    with pytest.raises(ValueError, match="1"):
        alignment.evened([tone(0.1, 1.0, 1.0), np.zeros(RATE)], RATE, -18.0)


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


# ---- what is held


def test_lips_and_breath_are_those_of_the_first_on_every_tube(tmp_path):
    first, deep = held(variants(tmp_path, PHRASE + CUP), "lips")
    assert np.array_equal(first.performance.tension, deep.performance.tension)
    assert np.array_equal(first.performance.mouth, deep.performance.mouth)
    # and so the deep cup is heard: its notes move by more than an ear's 5 cents (common practice)
    found = [moments(h.performance, h.variant, "lips") for h in (first, deep)]
    moved = [cents(b.frequency, a.frequency) for a, b in zip(*found, strict=True)]
    assert all(abs(m) > 5 for m in moved)


def test_what_a_variant_says_itself_is_not_held(tmp_path):
    text = PHRASE + '[[variant]]\nname = "higher"\nplayer.tune = "E5 1"\n'
    _, higher = held(variants(tmp_path, text), "lips")
    assert "set for the notes that it plays" in higher.adapted[0]


@pytest.mark.parametrize("text", [STEADY + COLD, PHRASE + CUP])
def test_pitch_is_held(tmp_path, text):
    takes = list(held(variants(tmp_path, text), "pitch"))
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
    first, other = held(variants(tmp_path, text), "pitch")
    (a,), (b,) = (moments(h.performance, h.variant, "pitch") for h in (first, other))
    assert abs(cents(b.frequency, a.frequency)) < 2 * CLOSE_ENOUGH


@pytest.mark.parametrize("text", [STEADY + CUP, PHRASE + CORNET])
def test_effort_is_held(tmp_path, text):
    efforts = []
    for take in held(variants(tmp_path, text), "effort"):
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


SWEPT = STEADY.replace("tension_hz = 420.0", "tension_hz = [[0.0, 300.0], [1.0, 600.0]]") + COLD
POP = '[instrument]\nname = "trumpet"\n[source]\nkind = "pop"\n' + COLD
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
        list(held(variants(tmp_path, text), hold))
    (problem,) = caught.value.problems
    assert problem.startswith(str(tmp_path / "scene.toml"))
    assert told in problem
    assert "\n" not in problem


def test_what_cannot_be_held_leaves_nothing(tmp_path, capsys):
    path, out = scene(tmp_path, SWEPT), tmp_path / "out"
    assert main(["compare", str(path), "--hold", "effort", "--out", str(out)]) == 2
    assert capsys.readouterr().err.strip().startswith(str(path))
    assert [p.name for p in tmp_path.iterdir()] == ["scene.toml"]


def test_a_source_is_compared_as_it_is(tmp_path, capsys):
    path = scene(tmp_path, POP.replace("[source]", "[sound]\nlength_s = 0.6\n[source]"))
    assert main(["compare", str(path), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert "Held: nobody plays" in told
    assert document_of(tmp_path / "out")["hold"] is None


# ---- the command


def test_the_folder_is_complete(compared):
    expected = {"compare.json", "listen.html", "blind.html", "picture.png"}
    assert {p.name for p in compared.iterdir()} == expected | {f"sound.{n}.wav" for n in (1, 2, 3)}
    assert not list(compared.parent.glob(".*"))


def test_it_tells_what_changed_what_was_held_and_what_was_taken(tmp_path, capsys):
    path = scene(tmp_path, STEADY + CUP)
    assert main(["compare", str(path), "--hold", "pitch", "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    row = document_of(tmp_path / "out")["sounds"][1]
    assert "Changed: instrument.mouthpiece: as written -> deep." in told
    assert re.search(r"The player: the lips: 420\.0 -> \d+\.\d Hz, so that they play", told)
    word = "louder" if row["taken_db"] > 0 else "softer"
    assert f"it was {abs(row['taken_db']):.1f} dB {word} than the first" in told
    assert "Held: the pitch" in told
    assert "blind.html" in told


def test_two_scenes_differ_by_their_keys(tmp_path, capsys):
    paths = [
        scene(tmp_path, STEADY, "one"),
        scene(tmp_path, STEADY.replace("8.0", "9.0").replace("One", "Harder"), "two"),
    ]
    out = tmp_path / "out"
    assert main(["compare", *map(str, paths), "--out", str(out)]) == 0
    rows = document_of(out)["sounds"]
    assert [r["name"] for r in rows] == ["One note", "Harder note"]
    assert rows[1]["changed"] == ["player.pressure_kpa: 8 -> 9"]
    assert rows[1]["taken_db"] > 0  # more breath, more sound


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (STEADY, "1 sound to compare: expected a scene with a [[variant]], or two scenes"),
        (STEADY + COLD + "".join(COLD.replace("cold", f"v{n}") for n in range(11)), "13 sounds"),
        (STEADY + '[[variant]]\nname = "same"\ntitle = "Two"\n', "all sounds are the same"),
        (STEADY + '[[variant]]\nname = "off"\nplayer.pressure_kpa = 0.0\n', "nothing sounds"),
    ],
)
def test_a_set_that_is_none_is_refused(tmp_path, text, told, capsys):
    path = scene(tmp_path, text)
    assert main(["compare", str(path), "--out", str(tmp_path / "out")]) == 2
    error = capsys.readouterr().err
    assert error.startswith(f"{path}: ")
    assert told in error
    assert [p.name for p in tmp_path.iterdir()] == ["scene.toml"]


def test_a_scene_twice_and_a_foreign_folder_are_refused(tmp_path, capsys):
    path = scene(tmp_path, STEADY + COLD)
    assert main(["compare", str(path), str(path)]) == 2
    assert "given twice" in capsys.readouterr().err
    assert main(["compare", str(path), "--out", str(tmp_path)]) == 2
    assert "holds other files" in capsys.readouterr().err


def test_same_scenes_same_set(tmp_path):
    class Studio:
        @staticmethod
        def finish(take):
            from lipmodel.output.take_files import finish

            return finish(take)

    path = scene(tmp_path, STEADY + COLD)
    sets = [make([path], None, Studio)["document"]["set"] for _ in range(2)]
    assert sets[0] == sets[1]


def test_the_starter_can_be_compared(tmp_path):
    path = tmp_path / "my.toml"
    assert main(["new", "compare", str(path)]) == 0
    assert len(variants_of([path])) == len(read_scene(path).variants) == 3


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


# ---- chance


@pytest.mark.parametrize(
    ("right", "count", "p"),
    # tail of the binomial distribution, summed by hand: 2517/65536 and 11/1024
    [(12, 16, 2517 / 65536), (9, 10, 11 / 1024), (0, 10, 1.0), (10, 10, 1 / 1024)],
)
def test_the_chance_of_guessing_is_exact(right, count, p):
    assert blind_test.chance_of(right, count) == pytest.approx(p, rel=1e-12)  # of doubles


def test_the_interval_is_the_one_of_the_beta_distribution():
    # the closed form of Clopper and Pearson's limits (textbook)
    low, high = blind_test.interval(12, 16)
    assert low == pytest.approx(stats.beta.ppf(0.025, 12, 5), abs=1e-9)
    assert high == pytest.approx(stats.beta.ppf(0.975, 13, 4), abs=1e-9)


def test_trials_are_even_and_follow_from_seed_and_code():
    found = blind_test.trials(4, 12, 7, "anna")
    assert found == blind_test.trials(4, 12, 7, "anna")
    assert found != blind_test.trials(4, 12, 7, "bert")
    assert found != blind_test.trials(4, 12, 8, "anna")
    scored = [t for t in found if not t.catch]
    pairs = [tuple(sorted((t.a, t.b))) for t in scored]
    assert {pairs.count(p) for p in pairs} == {2}  # six pairs in twelve trials
    assert [t.a == t.b for t in found] == [t.catch for t in found]
    assert len(found) - len(scored) == blind_test.catches(12) == 2


def test_every_letter_of_a_long_text_counts():
    text = "".join(map(str, range(300)))
    found = {blind_test.seal(f"{text[:i]}x{text[i + 1 :]}") for i in range(0, len(text), 7)}
    assert len(found) == len(range(0, len(text), 7))


def test_sides_and_keys_are_fair_coins():
    found = [t for n in range(400) for t in blind_test.trials(3, 10, 1, f"c{n}") if not t.catch]
    for heads in (sum(t.x for t in found), sum(t.a < t.b for t in found)):
        # 4000 tosses: three standard deviations are 0.024 (and the codes are fixed)
        assert heads / len(found) == pytest.approx(0.5, abs=0.024)
    firsts = sum(t.x == (t.a > t.b) for t in found)
    assert firsts / len(found) == pytest.approx(0.5, abs=0.024)


def brute(rights, counts):
    """Likeliest mean and spread of a beta-binomial on a grid, by the recurrence of its chances
    (P. Skellam 1948, from memory): no gamma function, no scipy."""
    best = (-np.inf, 0, 0)
    for mean in np.arange(0.02, 0.985, 0.01):
        for theta in np.arange(0, 1.0, 0.02):
            value = 0.0
            for r, n in zip(rights, counts, strict=True):
                up = np.sum(np.log(mean + theta * np.arange(r)))
                down = np.sum(np.log(1 - mean + theta * np.arange(n - r)))
                value += up + down - np.sum(np.log1p(theta * np.arange(n)))
            best = max(best, (value, mean, theta))
    _, mean, theta = best
    return mean, np.sqrt(theta / (1 + theta) * mean * (1 - mean))


@pytest.mark.parametrize(
    "scores", [[(5, 10), (9, 10), (7, 10), (14, 16), (4, 10)], [(10, 10), (5, 10), (6, 10)]]
)
def test_the_group_is_the_likeliest_one(scores):
    rights, counts = zip(*scores, strict=True)
    found = blind_test.group(rights, counts)
    mean, spread = brute(rights, counts)
    # the grid's own step is 0.01 in the mean and 0.02 in theta: up to 0.02 in the spread
    assert found.mean == pytest.approx(mean, abs=0.011)
    assert found.spread == pytest.approx(spread, abs=0.03)
    assert found.low < found.mean < found.high


def test_alike_listeners_have_no_spread():
    found = blind_test.group([8] * 5, [10] * 5)
    assert found.mean == pytest.approx(0.8, abs=1e-4)
    assert found.spread == 0.0
    # then it is one binomial of 40 in 50: its profile interval, solved here by itself
    grid = np.linspace(0.5, 0.99, 49_001)
    fall = 40 * np.log(0.8 / grid) + 10 * np.log(0.2 / (1 - grid))
    inside = grid[fall < 3.8415 / 2]
    # spread may help the profile a little beyond; the tail of the grid is 1e-5
    assert found.low == pytest.approx(inside[0], abs=0.01)
    assert found.high == pytest.approx(inside[-1], abs=0.01)


def test_listeners_who_differ_widen_the_interval():
    alike, differing = blind_test.group([7] * 6, [10] * 6), blind_test.group([4, 10] * 3, [10] * 6)
    assert differing.spread > 0.1
    assert differing.high - differing.low > 1.3 * (alike.high - alike.low)


@pytest.mark.slow
def test_the_interval_holds_the_truth_about_as_often_as_it_says():
    rng = np.random.default_rng(3)
    held_truth = 0
    for _ in range(200):
        shares = rng.beta(7, 3, size=15)  # mean 0.7, standard deviation 0.138
        found = blind_test.group(rng.binomial(16, shares), [16] * 15)
        held_truth += found.low <= 0.7 <= found.high
    # 95 % of 200 with a standard deviation of 3.1; a profile of 15 listeners is a little narrow
    assert held_truth >= 180


# ---- files of results


@pytest.fixture
def document(compared):
    return document_of(compared)


def test_results_are_read_and_told(tmp_path, document, capsys):
    rights = {"anna": 10, "bert": 8, "cleo": 9}
    paths = [
        small_compare.saved(tmp_path, small_compare.results(document, code, right), f"{code}.json")
        for code, right in rights.items()
    ]
    assert main(["compare", "--read", *map(str, paths)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert "anna: 10 of 10 right, p = 0.0010" in told[1]
    assert "bert: 8 of 10 right, p = 0.0547, 95 % interval 44 to 97 %" in told[2]
    assert "Listeners like these hear a difference" in told[-1]


def test_few_listeners_are_no_group(tmp_path, document):
    path = small_compare.saved(tmp_path, small_compare.results(document, "anna", 9))
    assert "too few" in sentences([read_session(path)])[-1]


def changed(data, *where, to):
    data = json.loads(json.dumps(data))
    table = data
    for key in where[:-1]:
        table = table[key]
    if to is None:
        del table[where[-1]]
    else:
        table[where[-1]] = to
    return data


@pytest.mark.parametrize(
    ("where", "to", "told"),
    [
        (("trials",), None, "trials: missing"),
        (("seed",), "one", 'seed = "one": expected a whole number'),
        (("kind",), "lunch", "not a result of blind listening"),
        (("count",), 12, "not those that follow from seed"),
        (("code",), "bert", "not those that follow from seed"),
        (("sounds", 0, "sha256"), "0" * 64, "expected the name that follows from the sounds"),
        (("trials", 0, "answer"), 7, "trials[1].answer = 7: expected 0 for A or 1 for B"),
        (("trials", 0, "ms"), 1, "the file was changed"),
        (("trials", 0, "x"), 9, "not those that follow"),
        (("score", "right"), 10, "score.right = 10: expected 9, by its answers"),
        (("format",), 2, "format = 2: expected 1"),
    ],
)
def test_a_changed_file_is_refused(tmp_path, document, where, to, told):
    data = changed(small_compare.results(document, "anna", 9), *where, to=to)
    with pytest.raises(SceneError) as caught:
        read_session(small_compare.saved(tmp_path, data))
    (problem,) = caught.value.problems
    assert problem.startswith(str(tmp_path / "result.json"))
    assert told in problem


@pytest.mark.parametrize("text", ["", "[1]", "{", '{"kind": 3}', "\0", "[" * 100_000])
def test_a_file_that_is_something_else_is_refused(tmp_path, text, capsys):
    path = tmp_path / "some.json"
    path.write_text(text, encoding="utf-8")
    assert main(["compare", "--read", str(path)]) == 2
    assert capsys.readouterr().err.startswith(f"{path}: ")
    assert main(["compare", "--read", str(tmp_path / "none.json")]) == 2
    assert "none.json: no such file" in capsys.readouterr().err


def test_one_listener_twice_and_mixed_sets_are_told(tmp_path, document):
    data = small_compare.results(document, "anna", 9)
    other = {**document, "sounds": document["sounds"][:2]}
    sums = [s["sha256"] for s in other["sounds"]]
    other["set"] = tables.digest("".join(sums).encode())
    paths = [
        small_compare.saved(tmp_path, data, "1.json"),
        small_compare.saved(tmp_path, data, "2.json"),
        small_compare.saved(tmp_path, small_compare.results(other, "bert", 9), "3.json"),
    ]
    with pytest.raises(SceneError) as caught:
        read_sessions(paths)
    twice, mixed = caught.value.problems
    assert "expected one session of each" in twice
    assert "expected results of one set" in mixed


def test_results_beside_other_sounds_are_refused(tmp_path, document, compared):
    data = small_compare.results(document, "anna", 9)
    there = tmp_path / "set"
    there.mkdir()
    for path in compared.iterdir():
        (there / path.name).write_bytes(path.read_bytes())
    path = small_compare.saved(there, data)
    assert read_session(path).right == 9
    (there / "sound.2.wav").write_bytes((there / "sound.1.wav").read_bytes())
    with pytest.raises(SceneError, match=r"sounds\[2\]\.sha256"):
        read_session(path)
