"""What rests in tune: resonances, played notes and fingerings of the built-in instruments."""

import numpy as np
import parselmouth
import pytest
from support.built_in import PLAYED, peaks, series
from support.music import AIR, RATE

from lipmodel.acoustics.resonances import resonances
from lipmodel.analysis.sweeps import slot_rows, sweep
from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.lips import PLAYERS
from lipmodel.player.fingering import fundamental
from lipmodel.player.fingering_options import compass, options
from lipmodel.player.instrument import Instrument, resting_cents
from lipmodel.player.performance import perform
from lipmodel.player.tuning import peak_near
from lipmodel.scene.scene import read_scene
from lipmodel.units import cents, note_frequency, note_name, parse_note
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.state import Horn

UP_TO = {"horn": 10, "trombone": 10, "tuba": 10}


@pytest.mark.parametrize("name", ["trumpet", "pipe", "cone"])
@pytest.mark.parametrize("away", [-40, 5, 40])
def test_the_climb_to_a_peak_ends_where_the_whole_search_does(name, away):
    bore = to_bore(instruments.spec(name))
    for one in resonances(bore, AIR)[1:12]:
        # measured: 0.13 cent at most, where a peak is lopsided
        climbed = peak_near(bore, AIR, one.frequency * 2 ** (away / 1200))
        assert cents(climbed, one.frequency) == pytest.approx(0, abs=0.2)


@pytest.mark.parametrize("name", [*PLAYED, "bugle"])
def test_resonances_lie_on_a_harmonic_series_where_the_player_sounds_in_tune(name):
    base, distance = series(peaks(name), UP_TO.get(name, 8))
    assert np.max(np.abs(distance)) < 15
    spec = instruments.spec(name)
    # held notes rest above the resonance: 10 cents is what the rest itself varies by
    sounds = cents(base, note_frequency(fundamental(spec))) + resting_cents(spec)
    assert abs(sounds) < 10


def rests(name):
    """Cents above their resonance at which held notes rest (slot centres of partials 2 to 8, up
    and down) at 1.1 to 2.2 times the pressure at which the fourth partial begins."""
    spec, lips = instruments.spec(name), PLAYERS[instruments.spec(name).player]
    bore = to_bore(spec)
    horn = Horn(build_ladder(bore, AIR, RATE), lips, AIR.density)
    numbered = [(r.n, r.frequency) for r in resonances(bore, AIR)]
    base = note_frequency(fundamental(spec))
    found = []
    for times in (1.1, 1.6, 2.2):
        pressure = 7.5 * 4 * base * times
        for up in (True, False):
            swept = sweep(horn, base, 8.2 * base, lambda t, p=pressure: np.full(np.shape(t), p), up)
            rows = slot_rows(swept, numbered)
            found += [r["cents_from_resonance"] for r in rows if 2 <= r["partial"] <= 8]
    return np.array(found)


@pytest.mark.slow
@pytest.mark.parametrize("name", [*PLAYED, "bugle"])
def test_notes_rest_above_their_resonance_as_the_file_says(name):
    found = rests(name)
    assert len(found) >= 20  # slots
    # 5 cents: what the mean moves by when another pressure is taken
    assert np.mean(found) == pytest.approx(resting_cents(instruments.spec(name)), abs=5)


def test_the_usual_fingerings_of_the_trumpet_are_in_tune():
    instrument = Instrument(instruments.spec("trumpet"), AIR)
    low = parse_note("Bb3")
    for semitone in compass(instrument):
        best = options(instrument, semitone)[0]
        assert best.usual
        assert best.third_slide_pull_mm <= 25
        if semitone >= low:
            assert abs(best.cents) < 25, semitone
        # the second resonance of every series
        if best.way.partial == 2:
            assert best.cents_unpulled >= -60


def test_d_and_c_sharp_without_slide_lie_near_common_practice():
    """+15 and +38 cents with a long third slide, +30 and +54 with exact valves (as above)."""
    instrument = Instrument(instruments.spec("trumpet"), AIR)
    for sounding, low, high in (("C4", 0, 45), ("B3", 23, 69)):
        best = options(instrument, parse_note(sounding))[0]
        assert low < best.cents_unpulled < high


@pytest.mark.slow
def test_the_lips_play_every_note_of_the_chart(tmp_path):
    """Usual fingerings, from the lowest to the highest, each within 5 cents of equal temperament
    by an independent tracker (praat, autocorrelation)."""
    instrument = Instrument(instruments.spec("trumpet"), AIR)
    names = [note_name(semitone, "sharps") for semitone in compass(instrument)]
    tune = ", ".join(f"{name} 1" for name in names)
    path = tmp_path / "all.toml"
    path.write_text(
        f'[notes]\nread_as = "sounding"\n[instrument]\nname = "trumpet"\n'
        f'[player]\ntempo_bpm = 110\ndynamic = "mf"\ntune = "{tune}"\n'
    )
    played = perform(read_scene(path))
    pressure = played.played.mouthpiece_pressure
    assert len(played.gesture.notes) == 31
    for note in played.gesture.notes:
        part = pressure[int((note.start + 0.2) * RATE) : int((note.end - 0.06) * RATE)]
        sound = parselmouth.Sound(part / np.abs(part).max(), RATE)
        pitch = sound.to_pitch_ac(pitch_floor=100, pitch_ceiling=1500)
        heard = np.median(pitch.selected_array["frequency"])
        assert abs(cents(heard, note.frequency)) < 5, note.name
