"""Pictures say what the data say: names, units, numbers, and something sensible when silent."""

import io
import re
import time

import matplotlib.pyplot
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from support import sample_report as sample

from lipmodel.output.pictures.impedance import HIGHEST, impedance_figure
from lipmodel.output.pictures.take import COLUMNS, _resonance_lines, played_figure
from lipmodel.output.wording import heading
from lipmodel.units import sharp_or_flat


@pytest.fixture(scope="module")
def traces():
    return sample.traces()


@pytest.fixture(scope="module")
def figure(traces):
    return played_figure(sample.report(), traces)


def words(axes):
    return [text.get_text() for text in axes.texts]


def line(axes, label):
    return next(line for line in axes.lines if line.get_label() == label)


def png(figure) -> bytes:
    """The picture as a file: everything in it was drawn (a warning is an error in these tests)."""
    file = io.BytesIO()
    figure.savefig(file, format="png")
    return file.getvalue()


def boxes(axes):
    renderer = FigureCanvasAgg(axes.figure).get_renderer()
    return [text.get_window_extent(renderer) for text in axes.texts]


def test_every_axis_has_a_name_and_a_unit(figure):
    assert len(figure.axes) == 4  # three panels; the last has an axis at each side
    labels = [a.get_xlabel() for a in figure.axes[:3]] + [a.get_ylabel() for a in figure.axes]
    units = ("in s", "in s", "in ms", "in Hz", "in kPa", "in kPa", "in mm²")
    for label, unit in zip(labels, units, strict=True):
        assert unit in label.replace("\n", " ")


def test_no_name_of_a_resonance_runs_over_the_edge(traces):
    report = sample.report()
    for row in report["resonances"]:  # the widest that there are
        row |= {"written": "Bb5", "sounding": "Bb5", "cents": 48.0}
    for note in report["notes"]:
        note |= {"partial": report["resonances"][-1]["n"]}
    drawn = played_figure(report, traces)
    png(drawn)
    named = [box for box, text in zip(boxes(drawn.axes[0]), words(drawn.axes[0]), strict=True)
             if "sharp" in text]  # fmt: skip
    assert len(named) > 3
    assert max(box.x1 for box in named) < 1600


def test_what_is_heard_an_octave_lower_is_drawn_there(traces):
    report = sample.report()
    known = [t for t, f in zip(*report["pitch"].values(), strict=True) if f is not None]
    row = {"start_s": known[50], "end_s": known[90], "octave": -1, "frequency_hz": 100.0}
    report["heard"] = [row]
    axes = played_figure(report, traces).axes[0]
    sounds, heard = line(axes, "playing frequency"), line(axes, "what is heard there")
    known = np.isfinite(heard.get_ydata())
    assert known.sum() > 10
    assert heard.get_ydata()[known] == pytest.approx(0.5 * sounds.get_ydata()[known])
    assert heard.get_ydata()[known].min() > axes.get_ylim()[0]
    plain = played_figure(sample.report(), traces).axes[0]
    assert "what is heard there" not in [one.get_label() for one in plain.lines]


def test_nothing_is_left_in_the_global_state(traces):
    before = dict(matplotlib.rcParams)
    assert isinstance(played_figure(sample.report(), traces), Figure)
    assert matplotlib.pyplot.get_fignums() == []
    assert dict(matplotlib.rcParams) == before


def test_title_is_the_scene_and_its_variant(figure):
    assert figure.get_suptitle() == "Why notes snap"
    report = sample.report() | {"variant": "no bell"}
    assert heading(report) == "Why notes snap: no bell"


def test_resonances_are_labelled_with_number_written_note_and_cents(figure):
    shown = [t for t in words(figure.axes[0]) if re.match(r"\d+  ", t)]
    expected = {
        f"{r['n']}  {r['written']} {sharp_or_flat(r['cents'])}" for r in sample.resonances()
    }
    assert set(shown) <= expected
    assert {int(t.split()[0]) for t in shown} >= {note["partial"] for note in sample.notes()}


def test_resonance_lines_stand_at_their_frequencies(figure):
    low, high = figure.axes[0].get_ylim()
    flat = {line.get_ydata()[0] for line in figure.axes[0].lines if len(line.get_ydata()) == 2}
    assert flat == {f for f in sample.PEAKS if low < f < high}


def test_names_a_scene_reads_as_sounding_come_first(traces):
    report = sample.report()
    report["inputs"]["notes"]["read_as"] = "sounding"
    axes = played_figure(report, traces).axes[0]
    assert "(sounding notes)" in axes.get_ylabel()
    assert any(re.match(r"4  Bb4 ", t) for t in words(axes))
    assert "Bb4" in words(axes)


def test_ticks_name_the_note_of_their_frequency(figure):
    axes = figure.axes[0]
    for label, place in zip(axes.get_yticklabels(), axes.get_yticks(), strict=True):
        name, hertz = label.get_text().split()
        assert abs(float(hertz) - place) <= 0.5
        assert name == sample.named(place)["written"]


def test_playing_frequency_has_gaps_where_it_is_silent(figure):
    drawn = line(figure.axes[0], "playing frequency").get_ydata()
    expected = np.array(sample.report()["pitch"]["frequency_hz"], float)
    np.testing.assert_array_equal(drawn, expected)
    assert np.isnan(drawn).any()


def test_lip_setting_is_thin_and_called_not_the_note(figure):
    lips = line(figure.axes[0], "lip setting (not the note)")
    assert lips.get_linewidth() < line(figure.axes[0], "playing frequency").get_linewidth() / 2
    assert lips.get_ydata()[0] == 140.0


def test_notes_carry_their_written_names(figure):
    shown = [t for t in words(figure.axes[0]) if re.fullmatch(r"[A-G]b?\d", t)]
    assert shown == ["C4", "G4", "C5", "E5", "G5"]


def test_more_than_twelve_notes_are_not_named(traces):
    report = sample.report()
    report["notes"] = [
        dict(report["notes"][0], start_s=0.9 * i, end_s=0.9 * i + 0.5) for i in range(13)
    ]
    assert "C4" not in words(played_figure(report, traces).axes[0])


def test_a_free_glide_has_no_name_but_a_free_plateau_has(traces):
    report = sample.report()
    free = report["notes"][2] | {"state": "free"}
    axes = played_figure(report | {"notes": [free]}, traces).axes
    assert "C5" in words(axes[0])
    glide = free | {"start_s": 0.5, "end_s": 11.5}
    axes = played_figure(report | {"notes": [glide]}, traces).axes
    assert "C5" not in words(axes[0])
    assert axes[2].get_xlabel().endswith("three periods in the longest note")


def test_labels_do_not_overlap(traces):
    report = sample.report()
    # a second set of resonances a quarter tone above the first: too many names for the room
    report["resonances"] += [
        dict(r, n=r["n"] + 10, frequency_hz=1.03 * r["frequency_hz"]) for r in sample.resonances()
    ]
    report["notes"] = [
        dict(n, start_s=0.3 * i, end_s=0.3 * i + 0.3)
        for i, n in enumerate((report["notes"] * 3)[:12])
    ]
    figure = played_figure(report, traces)
    png(figure)
    found = boxes(figure.axes[0])
    assert len(found) > 10
    assert not any(a.overlaps(b) for i, a in enumerate(found) for b in found[:i])


def test_pressures_are_drawn_in_kilopascals_between_their_extremes(figure, traces):
    mouth = line(figure.axes[1], "in the\nmouth").get_ydata()
    assert mouth.max() == pytest.approx(traces["mouth_pressure_pa"].max() / 1000, rel=1e-12)
    assert len(mouth) == COLUMNS
    filled = figure.axes[1].collections[0].get_paths()[0].vertices[:, 1]
    cup = traces["mouthpiece_pressure_pa"] / 1000
    assert (filled.min(), filled.max()) == pytest.approx((cup.min(), cup.max()), rel=1e-12)


def test_close_look_shows_three_periods_of_the_longest_note(figure, traces):
    note = sample.notes()[0]
    axes, opening = figure.axes[2], figure.axes[3]
    length = axes.lines[0].get_xdata()[-1]
    # a sample more or less at each end
    assert length == pytest.approx(3000 / note["frequency_hz"], abs=2 * 1000 / sample.RATE)
    assert "longest note C4" in axes.get_xlabel()
    start = float(re.search(r"from ([\d.]+) s", axes.get_xlabel()).group(1))
    assert note["start_s"] < start < note["end_s"]
    largest = traces["lip_opening_m2"].max() * 1e6
    assert opening.lines[0].get_ydata().max() == pytest.approx(largest, rel=0.01)


def test_silence_still_draws_and_says_so():
    figure = played_figure(*sample.silence())
    assert "no sound" in words(figure.axes[0])
    assert "no sound" in figure.axes[2].get_xlabel()
    assert png(figure)


def test_without_notes_the_close_look_is_where_it_is_loudest(traces):
    report = sample.report() | {"notes": []}
    figure = played_figure(report, traces)
    assert "where it is loudest" in figure.axes[2].get_xlabel()
    assert "no sound" not in words(figure.axes[0])


def test_a_bare_run_of_a_few_milliseconds_draws(traces):
    report = sample.report() | {"notes": [], "resonances": [], "length_s": 0.05}
    report["pitch"] = {"time_s": [], "frequency_hz": []}
    short = {name: values[:2400] for name, values in traces.items()}
    assert png(played_figure(report, short | {"tension_hz": np.zeros(2400)}))


def test_title_may_hold_any_sign(traces):
    title = "$5 \N{TRUMPET} <b> & 'so' _x^2 " + 30 * "long "
    figure = played_figure(sample.report() | {"title": title}, traces)
    assert figure.get_suptitle().startswith("$5 <b> & 'so' _x^2 long")
    png(figure)
    extent = figure._suptitle.get_window_extent()
    assert extent.x0 >= 0
    assert extent.x1 <= figure.bbox.width


@pytest.mark.benchmark
def test_a_long_trace_takes_hardly_longer_to_draw_than_a_short_one(traces):
    def best(given):
        times = []
        for _ in range(3):
            start = time.perf_counter()
            png(played_figure(sample.report(), given))
            times.append(time.perf_counter() - start)
        return min(times)

    short = {name: values[: len(values) // 12] for name, values in traces.items()}
    # measured 0.7 to 1.2: twelve times the samples, thinned before they are drawn
    assert best(traces) < 2.5 * best(short)


def test_same_run_same_picture(traces):
    assert png(played_figure(sample.report(), traces)) == png(
        played_figure(sample.report(), traces)
    )


def test_impedance_names_its_axes_and_peaks():
    curve = ("school trumpet", *sample.impedance())
    figure = impedance_figure("School trumpet", [curve], sample.resonances())
    axes = figure.axes[0]
    assert axes.get_xlabel() == "Frequency in Hz"
    assert axes.get_ylabel() == "Input impedance in MPa s/m³"
    assert axes.get_xlim()[1] == HIGHEST
    assert figure.get_suptitle() == "School trumpet"
    told = [sharp_or_flat(r["cents"]).replace("cents ", "cents\n") for r in sample.resonances()]
    expected = [
        f"{r['n']}\n{r['written']}\n{words}"
        for r, words in zip(sample.resonances(), told, strict=True)
    ]
    assert words(axes) == expected
    assert axes.get_legend() is None
    png(figure)
    found = boxes(axes)
    assert not any(a.overlaps(b) for i, a in enumerate(found) for b in found[:i])


def test_impedance_curve_is_the_data_in_mega_units():
    frequency, size = sample.impedance()
    axes = impedance_figure("", [("a", frequency, size)], []).axes[0]
    drawn = axes.lines[0]
    np.testing.assert_array_equal(drawn.get_xdata(), frequency[frequency <= HIGHEST])
    np.testing.assert_allclose(drawn.get_ydata(), size[frequency <= HIGHEST] / 1e6, rtol=1e-12)


def test_several_curves_have_a_legend_and_differ_in_colour_and_dashes():
    frequency, size = sample.impedance()
    names = ["brass bell", "paper bell", "no bell"]
    curves = [(name, frequency, size * (i + 1)) for i, name in enumerate(names)]
    axes = impedance_figure("Three bells", curves, sample.resonances()).axes[0]
    assert [t.get_text() for t in axes.get_legend().get_texts()] == names
    assert len({line.get_color() for line in axes.lines}) == 3
    assert len({str(line._dash_pattern) for line in axes.lines}) == 3
    assert words(axes) == []


def test_measured_curve_is_dashed_and_named():
    frequency, size = sample.impedance()
    figure = impedance_figure("Hose", [("model", frequency, size)], [], measured=(frequency, size))
    axes = figure.axes[0]
    assert line(axes, "measured").get_linestyle() == "--"
    assert [t.get_text() for t in axes.get_legend().get_texts()] == ["model", "measured"]


def test_resonance_without_a_name_is_named_by_the_tuning_note():
    resonance = {"n": 1, "frequency_hz": 442.0, "magnitude_pa_s_m3": 30e6}
    axes = impedance_figure("", [("a", *sample.impedance())], [resonance], a4=442.0).axes[0]
    assert words(axes) == ["1\nA4\nin tune"]


def test_the_picture_s_resonances_follow_the_slide():
    rows = [{"n": 1, "frequency_hz": 100.0, "written": "G2", "cents": 35.0}]
    slide = {
        "time_s": [0.0, 1.0, 2.0], "position": [1.0, 1.0, 7.0],
        "positions": [1.0, 7.0], "resonances_hz": [[100.0, 200.0], [50.0, 100.0]],
    }  # fmt: skip
    told = {"resonances": rows, "length_s": 3.0, "notes": [], "slide": slide}
    time, curves, names = _resonance_lines(told)
    np.testing.assert_allclose(time, [0, 1, 2])
    np.testing.assert_allclose(curves[1], [100, 100, 50])
    np.testing.assert_allclose(curves[2], [200, 200, 100])
    assert names == {1: "1", 2: "2"}
    time, curves, names = _resonance_lines({**told, "slide": None})
    np.testing.assert_allclose(curves[1], [100, 100])
    assert (list(time), names[1][:5]) == ([0, 3], "1  G2")
