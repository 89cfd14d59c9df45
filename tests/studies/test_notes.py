"""Notes of a take: locked, lipped, and beside the resonance of their pulled slides."""

import numpy as np
import pytest

from lipmodel.acoustics.impedance import impedance
from lipmodel.analysis.lock import Slot
from lipmodel.bore.assembly import to_bore
from lipmodel.player.cached import kept_resonances
from lipmodel.player.note_names import resonance_rows
from lipmodel.player.performance import perform
from lipmodel.player.tubing import held_bore
from lipmodel.scene.scene import read_scene
from lipmodel.studies.field import field_of_run
from lipmodel.studies.hold import moments
from lipmodel.studies.notes import Notes
from lipmodel.studies.pair import portrait
from lipmodel.units import cents

PULLED = {
    "by a note": """[player]
[[player.phrase]]
note = "D4"
length_s = 0.6
valves = "13"
third_slide_pull_mm = 12.0
""",
    "by the scene, a phrase": 'third_slide_pull_mm = 12.0\n[player]\ntune = "D4 0.6"\n',
    "by the scene, lips set": """valves = "13"
third_slide_pull_mm = 12.0
[player]
tension_hz = 245
pressure_kpa = 4
[sound]
length_s = 0.8
""",
}
SLOT = Slot(400.0, 440.0, 419.5, 460.0)
STATES = {  # slot, lip setting Hz, cents from the resting pitch: state, from the contract
    "no slot": (None, 420.0, None, "free"),
    "resting": (SLOT, 420.0, 0.0, "locked"),
    "thirty up": (SLOT, 440.0, 30.0, "locked"),
    "thirty down": (SLOT, 400.0, -30.0, "locked"),
    "further up": (SLOT, 440.0, 30.1, "bent"),
    "further down": (SLOT, 400.0, -30.1, "bent"),
    "beside the slot": (SLOT, 440.1, 10.0, "bent"),
}


@pytest.mark.parametrize("text", PULLED.values(), ids=PULLED)
def test_a_note_is_told_beside_the_resonance_of_its_pulled_slides(tmp_path, text):
    path = tmp_path / "pulled.toml"
    path.write_text(f'[instrument]\nname = "trumpet"\n{text}')
    performance = perform(read_scene(path))
    built = performance.built
    bore = to_bore(built.spec, valves="13", third_slide_pull_mm=12.0)
    own = kept_resonances(bore, built.air)[2].frequency
    without = kept_resonances(to_bore(built.spec, valves="13"), built.air)[2].frequency
    assert cents(without, own) > 15

    def held_rows(*how):
        return resonance_rows(built, held_bore(built, *how))

    (note,) = Notes(performance, resonance_rows(built), held_rows).rows()
    assert note["partial"] == 3
    assert note["resonance_hz"] == pytest.approx(own, rel=1e-9)
    assert note["cents_from_resonance"] == pytest.approx(cents(note["frequency_hz"], own))
    assert note["energy"]["wall_at_w"]["tubing"] > 0


def test_whoever_looks_into_the_bore_of_a_note_sees_its_pulled_slides(tmp_path):
    path = tmp_path / "pulled.toml"
    path.write_text(f'[instrument]\nname = "trumpet"\n{PULLED["by a note"]}')
    scene = read_scene(path)
    performance = perform(scene)
    built = performance.built
    bore = to_bore(built.spec, valves="13", third_slide_pull_mm=12.0)
    rows = Notes(performance, [], lambda *how: resonance_rows(built, held_bore(built, *how))).rows()
    assert field_of_run(performance, rows)["x_m"][-1] == pytest.approx(bore.length)
    (moment,) = moments(performance, scene.variants[0], "lips")
    assert moment.bore.length == pytest.approx(bore.length)
    seen = portrait(performance, rows[0])
    expected = np.abs(impedance(bore, built.air, seen["curve_hz"]))
    np.testing.assert_allclose(seen["curve"], expected, rtol=1e-9)


@pytest.mark.parametrize(("slot", "tension", "lipped", "state"), STATES.values(), ids=STATES)
def test_a_note_is_locked_within_thirty_cents_of_its_slots_centre(slot, tension, lipped, state):
    assert Notes._state(slot, tension, lipped) == state
