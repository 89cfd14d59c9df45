"""The note keys of the live page: each plays its note, out of silence and out of others."""

import pytest

from lipmodel.output import live_notes
from lipmodel.output.live import live_set
from lipmodel.output.live_notes import notes_of_slots, notes_of_valves
from lipmodel.player.build import build
from lipmodel.player.cached import kept_resonances
from lipmodel.player.embouchure import Setting, pitch_at
from lipmodel.player.fingering import Way
from lipmodel.player.note_names import rows_of
from lipmodel.player.short_note import FAR_LOOSER, LOOSER
from lipmodel.player.tubing import lines_for
from lipmodel.scene.scene import read_scene
from lipmodel.units import cents, note_frequency

SCENE = '[instrument]\nname = "{}"\n[player]\npressure_kpa = 6.0\ntension_hz = 300.0\n'


@pytest.fixture
def trumpet(tmp_path):
    (tmp_path / "a.toml").write_text(SCENE.format("trumpet"), encoding="utf-8")
    return build(read_scene(tmp_path / "a.toml"), held=True)


def table(built, monkeypatch, low, high, valves):
    """Rows from `low` to `high` semitones over the second partial."""
    monkeypatch.setattr(live_notes, "BELOW", -low)
    monkeypatch.setattr(live_notes, "ABOVE", high + 12)
    tube = {"resonances": rows_of(built, kept_resonances(built.bore, built.air))}
    delays = {(v, 0.0, 0.0, 1.0): lines_for(built, v) for v in valves}
    return notes_of_valves(built, tube, delays)


def test_each_row_plays_its_note_with_its_valves(trumpet, monkeypatch):
    rows = table(trumpet, monkeypatch, 3, 8, ("0", "1", "12"))
    # from the second partial, sounding Bb3 = 58: D, E, F, G as written
    assert [(r["written"], r["valves"], r["partial"]) for r in rows] == [
        ("E4", "12", 3), ("F4", "1", 3), ("G4", "0", 3),
    ]  # fmt: skip
    for row in rows:
        lines = lines_for(trumpet, row["valves"])
        hz = pitch_at(trumpet.horn, row["tension_hz"], row["pressure_pa"], lines)
        # the solver's own 0.7 cents, and settings to a hundredth
        assert abs(cents(hz, note_frequency(row["semitone"]))) < 1.5
        assert row["begins"] in (LOOSER, FAR_LOOSER)
        assert {row["rises"], row["falls"]} <= set(live_notes.COMES)
        assert row["pressure_pa"] == pytest.approx(
            trumpet.horn.lips.breath("mf", note_frequency(row["semitone"])), abs=1
        )


def test_a_note_whose_valves_are_not_there_is_left_out(trumpet, monkeypatch):
    rows = table(trumpet, monkeypatch, 4, 8, ("0",))
    assert [r["written"] for r in rows] == ["G4"]


def test_lips_go_first_where_the_note_comes_out_of_its_neighbours(trumpet, monkeypatch):
    def comes(built, note, comes, target, state, before):
        higher = before[2].frequency > note[2].frequency
        return comes < 0.9 if higher else comes > 1.02

    monkeypatch.setattr(live_notes, "_comes", comes)
    rows = table(trumpet, monkeypatch, 0, 8, ("0",))
    assert [(r["begins"], r["rises"], r["falls"]) for r in rows] == [
        (LOOSER, LOOSER, FAR_LOOSER),  # nothing lies below it
        (LOOSER, 1.05, LOOSER),
    ]


def test_a_note_is_heard_to_come_out_of_another_one_or_not(trumpet, monkeypatch):
    rows = table(trumpet, monkeypatch, 0, 8, ("0",))
    assert all(live_notes.COMES.index(r["rises"]) < 6 for r in rows)
    lines = lines_for(trumpet, "0")
    low, high = ((Way("0", 1.0, r["partial"]), lines,
                  Setting(r["tension_hz"], note_frequency(r["semitone"]), 0.3), r["pressure_pa"])
                 for r in rows)  # fmt: skip
    state = live_notes._sounding(trumpet, high)
    target = note_frequency(rows[0]["semitone"])
    assert live_notes._comes(trumpet, low, rows[0]["falls"], target, state, high)
    assert not live_notes._comes(trumpet, low, 1.5, 2 * target, state, high)


def test_a_tube_that_is_only_blown_has_the_notes_of_its_slots(trumpet):
    slots = [
        {"pressure_pa": p, "partial": n, "centre_hz": t, "plays_hz": f}
        for p in (6e3, 12e3)
        for n, t, f in ((2, 210.0, 233.0), (3, 330.0, 352.0))
    ]
    rows = notes_of_slots(trumpet, slots)
    assert [(r["semitone"], r["tension_hz"], r["pressure_pa"]) for r in rows] == [
        (58, 210.0, 6000), (65, 330.0, 6000),
    ]  # fmt: skip
    assert notes_of_slots(trumpet, []) == []


def test_a_bore_that_is_not_what_its_name_says_has_no_rows(trumpet, monkeypatch):
    monkeypatch.setattr(live_notes, "FAR", -1.0)
    assert table(trumpet, monkeypatch, 6, 8, ("0",)) == []


@pytest.mark.slow
def test_the_whole_trumpet_has_every_note_from_its_lowest(tmp_path):
    (tmp_path / "a.toml").write_text(SCENE.format("trumpet"), encoding="utf-8")
    found = live_set(read_scene(tmp_path / "a.toml"), tubes=())
    semitones = [r["semitone"] for r in found["choices"][0]["notes"]]
    # written F sharp 3 to C6, the range of a trumpet: common practice, no published source
    assert semitones == list(range(52, 83))
