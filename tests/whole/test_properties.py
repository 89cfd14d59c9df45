"""What no bore and no scene may break: numbers stay finite, nothing gives back more than it gets,
energy is booked, and what is refused is refused in a sentence that names the file.
"""

import json
import shutil

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from support.drawn import bores, scenes

from lipmodel.acoustics.impedance import reflectance
from lipmodel.air import Air
from lipmodel.bore import assembly
from lipmodel.errors import SceneError, SimulationError
from lipmodel.output.render import rendered
from lipmodel.waveguide.fit import build_ladder, ladder_reflectance
from lipmodel.waveguide.impulse_response import echo
from lipmodel.waveguide.time_loop import LARGEST_PRESSURE

pytestmark = pytest.mark.slow  # hundreds of drawn scenes

AIR = Air.at(celsius=22.0)
RATE, ECHO = 48_000.0, 4096
FREQUENCY = np.concatenate([[0.0], np.geomspace(1.0, 20_000.0, 300)])


def tries(number):
    """The same draws until a line of the code is changed; nothing is kept between runs, and a
    failure is not made smaller: each draw takes a second."""
    return settings(
        max_examples=number, derandomize=True, deadline=None, database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow,
                               HealthCheck.data_too_large],
    )  # fmt: skip


class Quiet:
    """In place of the second process: what it is handed is kept, nothing is drawn."""

    def finish(self, take):
        self.take = take
        return {"report": take["report"], "files": {}}


def in_a_sentence(error, path):
    for line in str(error).split("\n"):
        assert line.startswith((f"{path}: ", f"{path.with_name('bore.toml')}: ")), line
        assert line.isprintable()


def numbers(value):
    """Every number in a report."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list | tuple):
        for inner in value:
            yield from numbers(inner)
    elif isinstance(value, float):
        yield value


def played(folder, texts):
    """The take of a drawn scene, checked; None where it is refused in a sentence."""
    shutil.rmtree(folder / "out", ignore_errors=True)
    path = folder / "scene.toml"
    path.write_text(texts[0])
    (folder / "bore.toml").write_text(texts[1])
    writer = Quiet()
    try:
        list(rendered(path, folder / "out", writer=writer))
    except (SceneError, SimulationError) as error:
        in_a_sentence(error, path)
        return None
    for name, trace in writer.take["traces"].items():
        assert np.all(np.isfinite(trace)), name
    assert np.abs(writer.take["traces"]["mouthpiece_pressure_pa"]).max() <= LARGEST_PRESSURE
    assert all(np.isfinite(v) for v in numbers(writer.take["report"]))
    report = json.loads((folder / "out" / "scene" / "report.json").read_text("utf-8"))
    booked(report, writer.take["traces"])
    return report


def booked(report, traces):
    """What enters the bore is found again: in the walls, outside, or still inside.

    Where neither valve nor slide moves: they lose energy that nobody books.  A flame is left out:
    the noise that it grows from is not booked.
    """
    if (report["inputs"]["source"] or {}).get("kind") == "flame":
        return
    still = isinstance(report["inputs"]["instrument"]["slide_position"], float)
    if not still or (report["inputs"]["player"] or {}).get("phrase"):
        return
    energy = report["energy"]
    spent = [energy[k] for k in ("wall_j", "radiated_j", "stored_j")]
    spent.append(energy.get("radiated_at_lip_end_j", 0.0))
    missing = energy["into_bore_j"] - sum(spent)
    # round-off of all that went in and came back again, which may be a thousand times what stays;
    # the lips of a player who does not blow tremble with 1e-42 J
    swing = np.sum(np.abs(traces["mouthpiece_pressure_pa"] * traces["flow_m3_s"]))
    largest = max(map(abs, [swing / report["rate_hz"], energy["into_bore_j"], *spent]))
    # measured 3e-10 over 1000 draws, and 5e-15 of what is blown where a tube two metres wide lets
    # it stand at the lips as a small difference of large pressures
    assert abs(missing) <= 1e-7 * largest + 1e-12 * energy["blown_j"] + 1e-30, energy
    tension = (report["inputs"]["player"] or {}).get("tension_hz")
    # a tension that moves puts the player's own work into the lips; and at low rates the steps of
    # large lips in a narrow cup are too long for what they do to the air
    if isinstance(tension, float) and report["rate_hz"] >= 44_100:
        lips = energy["blown_j"] - energy["into_bore_j"] - energy["lips_and_jet_j"]
        # what the lips hold at the end is not booked: measured 5 %, soft ones blown wide open
        assert abs(lips) <= 0.3 * energy["blown_j"] + 1e-3, energy


def mirrored(folder, text):
    """Neither the exact bore nor its ladder gives back more than it gets, at any frequency.

    Measured over 120 draws: the exact |R| never above 1 to the last bit, the ladder's 8e-5 below,
    its echo's energy 0.9998 at the most.  1e-12 is for the round-off of 200 matrices.
    """
    path = folder / "bore.toml"
    path.write_text(text)
    try:
        bore = assembly.read_bore(path)
        ladder = build_ladder(bore, AIR, RATE)
    except SceneError as error:
        if "too short for rate_hz" not in str(error):  # told by the ladder, which knows no file
            in_a_sentence(error, path)
        return
    exact = np.abs(reflectance(bore, AIR, FREQUENCY))
    assert np.all(exact <= 1 + 1e-12), exact.max() - 1
    cells = np.abs(ladder_reflectance(ladder, FREQUENCY[1:]))
    assert np.all(cells <= 1 + 1e-12), cells.max() - 1
    # Parseval: a spectrum of at most 1 leaves an echo of energy 1 at most, wherever it is cut off
    response = echo(ladder, ECHO)
    assert np.all(np.isfinite(response))
    assert np.sum(response**2) <= 1 + 1e-12


def draws(number, check, what, marks=()):
    return pytest.param(number, check, what, marks=marks, id=f"{number} {check.__name__}")


@pytest.mark.parametrize(
    ("number", "check", "what"),
    [
        # a bore's ladder takes longer than a scene of a known one
        draws(12, played, scenes),
        draws(5, mirrored, bores),
        draws(30, played, scenes, pytest.mark.slow),
        draws(500, played, scenes, pytest.mark.long),
        draws(500, mirrored, bores, pytest.mark.long),
    ],
)
def test_nothing_that_is_drawn_breaks_it(tmp_path, number, check, what):
    @tries(number)
    @given(drawn=what())
    def each(drawn):
        check(tmp_path, drawn)

    each()


def section(shape, **keys):
    return f'[[section]]\nshape = "{shape}"\n' + "".join(f"{k} = {v}\n" for k, v in keys.items())


WIDE = {"length_mm": 0.5, "diameter_mm": 2000}
# as thin, wide, short, long and uneven as a bore file may be
LIMITS = {
    "thin": section("cylinder", length_mm=2000, diameter_mm=0.5),
    "wide and short": section("cylinder", length_mm=40, diameter_mm=2000),
    "fifty metres": section("cylinder", length_mm=16_600, diameter_mm=12) * 3,
    "a hundred steps": (section("cylinder", **WIDE)
                        + section("cylinder", length_mm=0.5, diameter_mm=0.5)) * 50,
    "a flare of 5": section("bessel", length_mm=900, start_diameter_mm=0.5, end_diameter_mm=2000,
                            flare=5),
    "a flare of 0.05": section("bessel", length_mm=900, start_diameter_mm=10, end_diameter_mm=11,
                               flare=0.05),
    "a horn that closes": section("exponential", length_mm=900, start_diameter_mm=2000,
                                  end_diameter_mm=0.5),
    "a cone that closes": section("cone", length_mm=900, start_diameter_mm=2000,
                                  end_diameter_mm=0.5),
    "teeth": section("points", points_mm=[[i * 1.5, (4, 40)[i % 2]] for i in range(60)]),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("end", ["unflanged", "closed"])
@pytest.mark.parametrize("text", LIMITS.values(), ids=LIMITS)
def test_a_bore_at_the_limits_of_the_file_gives_back_no_more_than_it_gets(tmp_path, text, end):
    mirrored(tmp_path, f'end = "{end}"\n{text}')


HARD = """\
[instrument]
bore = "bore.toml"
[player]
pressure_kpa = 40.0
tension_hz = [[0.0, 20.0], [0.1, 2000.0], [0.2, 20.0]]
[sound]
length_s = 0.2
"""


@pytest.mark.slow
@pytest.mark.parametrize("text", LIMITS.values(), ids=LIMITS)
def test_the_hardest_breath_on_such_a_bore_stays_finite_or_is_refused(tmp_path, text):
    played(tmp_path, (HARD, text))
