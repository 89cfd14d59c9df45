"""Broken scene files and the exact sentence for each: place, value, way out."""

import pytest
from support import messages

from lipmodel.bore import instruments
from lipmodel.bore.bore_file import read_bore_file
from lipmodel.errors import SceneError
from lipmodel.scene.scene import read_scene

told = messages.told  # the same fixture

BUILT_IN = ", ".join(instruments.names())
SWEEP = """\
[instrument]
name = "trumpet"
[player]
pressure_kpa = 5
tension_hz = 440
"""
PHRASE = """\
[instrument]
name = "trumpet"
[[player.phrase]]
note = "C4"
"""
POP = """\
[instrument]
name = "pipe"
[source]
kind = "pop"
"""
CALLED = {
    "french horn": "horn",
    "F Horn": "horn",
    "tenor trombone": "trombone",
    "Bb trumpet": "trumpet",
    "Tenor-Horn": "tenor_horn",
    "alto horn": "tenor_horn",
    "Waldhorn": "horn",
    "Posaune": "trombone",
    "Flügelhorn": "flugelhorn",
    "sousaphone": "tuba",
}
ROOMS = "expected one of none, practice room, hall, or a table with size_m and reverberation_s"
BAD_SCENES = {  # file text, exact message
    "not TOML": (
        SWEEP.replace("pressure_kpa = 5", "pressure_kpa 5"),
        "low.toml:4: not TOML: expected '=' after a key in a key/value pair\n"
        "    pressure_kpa 5\n                 ^",
    ),
    "not TOML at the end": (
        SWEEP + "[air",
        "low.toml:6: not TOML at the end of the file: expected ']' at the end of a table "
        "declaration\n    [air\n        ^",
    ),
    "wrong type": (
        SWEEP.replace("= 5", '= "loud"'),
        'low.toml: player.pressure_kpa = "loud": expected a number from 0 to 40 kPa, '
        "or breakpoints [[time_s, value], ...]",
    ),
    "a word for breakpoints": (
        SWEEP.replace("440", '"high"'),
        'low.toml: player.tension_hz = "high": expected a number from 20 to 2000 Hz, '
        "or breakpoints [[time_s, value], ...]",
    ),
    "true is not 1": (
        SWEEP.replace("= 5", "= true"),
        "low.toml: player.pressure_kpa = true: expected a number from 0 to 40 kPa",
    ),
    "a table is not a number": (
        SWEEP.replace("= 5", "= { a = 1 }"),
        "low.toml: player.pressure_kpa = { a = 1 }: expected a number from 0 to 40 "
        "kPa, or breakpoints [[time_s, value], ...]",
    ),
    "a text for a title": (
        SWEEP.replace("[instrument]", "title = 3\n[instrument]"),
        "low.toml: title = 3: expected a text of up to 2000 letters",
    ),
    "choices that are no list": (
        SWEEP.replace("[instrument]", 'ask = "?"\nchoices = "a"' + "\n[instrument]"),
        'low.toml: choices = "a": expected a list of 2 to 4 texts',
    ),
    "one choice": (
        SWEEP.replace("[instrument]", 'ask = "?"\nchoices = ["a"]' + "\n[instrument]"),
        'low.toml: choices = ["a"]: expected 2 to 4 answers, found 1',
    ),
    "five choices": (
        SWEEP.replace(
            "[instrument]", 'ask = "?"\nchoices = ["a", "b", "c", "d", "e"]' + "\n[instrument]"
        ),
        'low.toml: choices = ["a", "b", "c", "d", "e"]: expected 2 to 4 answers, found 5',
    ),
    "an empty choice": (
        SWEEP.replace("[instrument]", 'ask = "?"\nchoices = ["a", " "]' + "\n[instrument]"),
        'low.toml: choices = ["a", " "]: expected answers of 1 to 70 letters, found " "',
    ),
    "choices alike": (
        SWEEP.replace("[instrument]", 'ask = "?"\nchoices = ["a", "A"]' + "\n[instrument]"),
        'low.toml: choices = ["a", "A"]: expected answers that differ',
    ),
    "choices without a question": (
        SWEEP.replace("[instrument]", 'choices = ["a", "b"]' + "\n[instrument]"),
        "low.toml: choices: expected a question too: ask",
    ),
    "right without choices": (
        SWEEP.replace("[instrument]", "right = 1" + "\n[instrument]"),
        "low.toml: right = 1: expected choices too: the answers to choose from",
    ),
    "right past the choices": (
        SWEEP.replace(
            "[instrument]", 'ask = "?"\nchoices = ["a", "b"]\nright = 3' + "\n[instrument]"
        ),
        "low.toml: right = 3: expected the number of one of the 2 choices",
    ),
    "right that is none": (
        SWEEP.replace(
            "[instrument]", 'ask = "?"\nchoices = ["a", "b"]\nright = 0' + "\n[instrument]"
        ),
        "low.toml: right = 0: expected the number of the right answer, 1 to 4",
    ),
    "unknown key": (
        SWEEP + "[air]\ntemprature_c = 20\n",
        "low.toml: air.temprature_c: unknown key; did you mean air.temperature_c?",
    ),
    "unknown key far from any": (
        SWEEP + "[air]\nwind = 20\n",
        "low.toml: air.wind: unknown key; expected one of temperature_c, "
        "humidity_percent, co2_percent, breath",
    ),
    "unknown table": (
        SWEEP + "[sounds]\nlength_s = 2\n",
        "low.toml: sounds: unknown key; did you mean sound?",
    ),
    "a later table": (
        SWEEP + "[sauce]\nhot = true\n",
        "low.toml: sauce: unknown key; did you mean source?",
    ),
    "a table that is a number": (
        SWEEP.replace("[instrument]", "air = 3\n[instrument]"),
        "low.toml: air = 3: expected a table",
    ),
    "too low": (
        SWEEP.replace("= 5", "= -1"),
        "low.toml: player.pressure_kpa = -1: expected a number from 0 to 40 kPa",
    ),
    "too high": (
        SWEEP.replace("= 5", "= 40.5"),
        "low.toml: player.pressure_kpa = 40.5: expected a number from 0 to 40 kPa",
    ),
    "nan": (
        SWEEP + "[air]\ntemperature_c = nan\n",
        "low.toml: air.temperature_c = nan: expected a number from 0 to 40 degrees C",
    ),
    "inf": (
        SWEEP.replace("440", "inf"),
        "low.toml: player.tension_hz = inf: expected a number from 20 to 2000 Hz",
    ),
    "yes is not true": (
        SWEEP + '[air]\nbreath = "yes"\n',
        'low.toml: air.breath = "yes": expected true or false',
    ),
    "valve 4": (
        SWEEP.replace("[player]", 'valves = "4"\n[player]'),
        'low.toml: instrument.valves = "4": no valve 4 on "School trumpet"; expected '
        '"0" or any of 1, 2, 3',
    ),
    "valves spelt badly": (
        SWEEP.replace("[player]", 'valves = "1st"\n[player]'),
        'low.toml: instrument.valves = "1st": expected valves such as "0", "2" or "13"',
    ),
    "auto with tension": (
        SWEEP.replace("[player]", 'valves = "auto"\n[player]'),
        'low.toml: instrument.valves = "auto": expected valves such as "0", "2" or '
        '"13"; "auto" needs a tune or a phrase',
    ),
    "valve 4 in a phrase": (
        PHRASE + 'valves = "24"\n',
        'low.toml: player.phrase[1].valves = "24": no valve 4 on "School trumpet"; '
        'expected "0" or any of 1, 2, 3',
    ),
    "valves on a pipe": (
        SWEEP.replace('"trumpet"', '"pipe"\nvalves = "2"'),
        'low.toml: instrument.valves = "2": "Plain pipe with a mouthpiece" has no '
        'valves; expected "0"',
    ),
    "a fourth valve among moves": (
        SWEEP.replace("[player]", 'valve_moves = [[0.5, "1"], [1.0, "14"]]\n[player]'),
        'low.toml: instrument.valve_moves[2][2] = "14": no valve 4 on "School trumpet"; '
        'expected "0" or any of 1, 2, 3',
    ),
    "moves that go back in time": (
        SWEEP.replace("[player]", 'valve_moves = [[0.5, "1"], [0.5, "2"]]\n[player]'),
        "low.toml: instrument.valve_moves[2][1] = 0.5: expected a time after 0.5 s",
    ),
    "a move to no valves at all": (
        SWEEP.replace("[player]", 'valve_moves = [[0.5, "auto"]]\n[player]'),
        'low.toml: instrument.valve_moves[1][2] = "auto": expected valves such as "0", "2" or "13"',
    ),
    "moves of notes": (
        PHRASE.replace('name = "trumpet"', 'name = "trumpet"\nvalve_moves = [[0.5, "1"]]'),
        "low.toml: instrument.valve_moves: expected none: notes name their own valves; with "
        "tension_hz valves move by time",
    ),
    "slide on a trumpet": (
        SWEEP.replace("[player]", "slide_position = 3\n[player]"),
        "low.toml: instrument.slide_position = 3: expected 1: it has no slide",
    ),
    "unknown instrument": (
        SWEEP.replace("trumpet", "trumpt"),
        f'low.toml: instrument.name = "trumpt": expected one of {BUILT_IN}; did you mean trumpet?',
    ),
    **{
        f"an instrument called {name}": (
            SWEEP.replace("trumpet", name),
            f'low.toml: instrument.name = "{name}": expected one of {BUILT_IN}; '
            f"did you mean {meant}?",
        )
        for name, meant in CALLED.items()
    },
    "unknown part": (
        SWEEP.replace("[player]", 'bell = "gradul"\n[player]'),
        'low.toml: instrument.bell = "gradul": expected one of none, gradual, late, '
        "a bore file (.toml); did you mean gradual?",
    ),
    "a part it does not have": (
        SWEEP.replace('"trumpet"', '"pipe"\nbell = "none"'),
        'low.toml: instrument.bell = "none": "Plain pipe with a mouthpiece" has no '
        "bell; it has: mouthpiece",
    ),
    "name and bore": (
        SWEEP.replace("[player]", 'bore = "hose.toml"\n[player]'),
        'low.toml: instrument.bore = "hose.toml": expected either name or bore, not both',
    ),
    "neither name nor bore": (
        SWEEP.replace('name = "trumpet"', 'valves = "0"'),
        "low.toml: instrument: expected name (built in) or bore (a bore file)",
    ),
    "no instrument": (
        SWEEP.replace('[instrument]\nname = "trumpet"\n', ""),
        "low.toml: instrument: missing; expected a table with name or bore",
    ),
    "bore file is not there": (
        SWEEP.replace('name = "trumpet"', 'bore = "hose.toml"'),
        'low.toml: instrument.bore = "hose.toml": no such file; expected a path that '
        "starts at this file's folder",
    ),
    "bore file above the project": (
        SWEEP.replace('name = "trumpet"', 'bore = "../hose.toml"'),
        'low.toml: instrument.bore = "../hose.toml": outside the scene\'s project '
        "folder; expected a file inside it, or --allow-outside",
    ),
    "absolute path": (
        SWEEP.replace('name = "trumpet"', 'bore = "/etc/hose.toml"'),
        'low.toml: instrument.bore = "/etc/hose.toml": absolute path; expected a '
        "path that starts at this file's folder",
    ),
    "absolute path of another system": (
        SWEEP.replace('name = "trumpet"', "bore = 'C:\\hose.toml'"),
        'low.toml: instrument.bore = "C:\\\\hose.toml": absolute path; expected a path '
        "that starts at this file's folder",
    ),
    "bad bore file": (
        SWEEP.replace('name = "trumpet"', 'bore = "bad.toml"'),
        "bad.toml: section[1].length_mm = -7: expected a number from 0.01 to 20000 mm",
    ),
    "empty breakpoints": (
        SWEEP.replace("440", "[]"),
        "low.toml: player.tension_hz = []: expected a number from 20 to 2000 Hz, or "
        "breakpoints [[time_s, value], ...]",
    ),
    "breakpoints out of order": (
        SWEEP.replace("440", "[[0, 100], [2, 200], [1, 300]]"),
        "low.toml: player.tension_hz[3][1] = 1: expected a time after 2 s",
    ),
    "breakpoint not a pair": (
        SWEEP.replace("440", "[[0, 100], [2]]"),
        "low.toml: player.tension_hz[2] = [2]: expected [time_s, value]",
    ),
    "breakpoint before the start": (
        SWEEP.replace("440", "[[-1, 100], [2, 200]]"),
        "low.toml: player.tension_hz[1][1] = -1: expected a time from 0 to 3600 s",
    ),
    "breakpoint value": (
        SWEEP.replace("440", "[[0, 100], [2, 2001]]"),
        "low.toml: player.tension_hz[2][2] = 2001: expected a number from 20 to 2000 Hz",
    ),
    "rate too low": (
        SWEEP + "[sound]\nrate_hz = 8000\n",
        "low.toml: sound.rate_hz = 8000: expected a whole number from 22050 to 192000 Hz",
    ),
    "rate too high": (
        SWEEP + "[sound]\nrate_hz = 1e7\n",
        "low.toml: sound.rate_hz = 10000000.0: expected a whole number from 22050 to 192000 Hz",
    ),
    "length 0": (
        SWEEP + "[sound]\nlength_s = 0\n",
        "low.toml: sound.length_s = 0: expected a number from 0.05 to 3600 s",
    ),
    "ten hours": (
        SWEEP + "[sound]\nlength_s = 36000\n",
        "low.toml: sound.length_s = 36000: expected a number from 0.05 to 3600 s",
    ),
    "ten hours at a high rate": (
        SWEEP + "[sound]\nlength_s = 36000\nrate_hz = 192000\n",
        "low.toml: sound.length_s = 36000: expected a number from 0.05 to 3600 s",
    ),
    "steepening of a number": (
        SWEEP + "[sound]\nsteepening = 1\n",
        "low.toml: sound.steepening = 1: expected true or false",
    ),
    "an ear elsewhere": (
        SWEEP + '[sound]\nplace = "hall"\n',
        'low.toml: sound.place = "hall": expected one of listener, player',
    ),
    "a room nobody knows": (
        SWEEP + '[sound]\nroom = "halle"\n',
        f'low.toml: sound.room = "halle": {ROOMS}; did you mean hall?',
    ),
    "a room that is a number": (
        SWEEP + "[sound]\nroom = 3\n",
        f"low.toml: sound.room = 3: {ROOMS}",
    ),
    "a flat room": (
        SWEEP + "[sound]\nroom = { size_m = [5, 4], reverberation_s = 0.6 }\n",
        "low.toml: sound.room.size_m = [5, 4]: expected [length, width, height], three numbers "
        "from 2 to 100, 100 and 40 m",
    ),
    "a room without a time": (
        SWEEP + "[sound.room]\nsize_m = [5, 4, 3]\n",
        "low.toml: sound.room.reverberation_s: missing; expected a number from 0.1 to 10 s",
    ),
    "an unknown key of a room": (
        SWEEP + "[sound.room]\nsize_m = [5, 4, 3]\nreverberation_s = 1\nwood = true\n",
        "low.toml: sound.room.wood: unknown key; expected one of size_m, reverberation_s",
    ),
    "walls that take too much": (
        SWEEP + "[sound.room]\nsize_m = [5, 4, 3]\nreverberation_s = 0.1\n",
        "low.toml: sound.room.reverberation_s = 0.1: expected 0.25 s or more in a room of this "
        "size",
    ),
    "two floors": (
        SWEEP + '[sound]\nroom = "hall"\nfloor = true\n',
        "low.toml: sound.floor = true: expected false: a room has its own floor",
    ),
    "ears beyond the wall": (
        SWEEP + '[sound]\nroom = "practice room"\ndistance_m = 5\n',
        "low.toml: sound.distance_m = 5: expected 3.3 m or less: the room is 4.2 m long",
    ),
    "a bell in the ceiling": (
        SWEEP + '[sound]\nroom = "practice room"\nbell_height_m = 2.5\ndistance_m = 2\n',
        "low.toml: sound.bell_height_m = 2.5: expected 2.3 m or less: the room is 2.6 m high",
    ),
    "ears nearer than the bell is high": (
        SWEEP + "[sound]\nfloor = true\nbell_height_m = 3\n",
        "low.toml: sound.distance_m = 1.0: expected 1.8 m or more: the bell is at 3 m, the ears "
        "at 1.2",
    ),
    "a bell out of the player's reach": (
        SWEEP + '[sound]\nroom = "hall"\nbell_height_m = 3\nplace = "player"\n',
        "low.toml: sound.bell_height_m = 3: expected from 0.7 to 1.7 m: the player's ear is 0.5 m "
        "away",
    ),
    "two ears are no number": (
        SWEEP + "[sound]\nstereo = 2\n",
        "low.toml: sound.stereo = 2: expected true or false",
    ),
    "half a floor": (
        SWEEP + '[sound]\nfloor = "wood"\n',
        'low.toml: sound.floor = "wood": expected true or false',
    ),
    "an extra copy": (
        SWEEP + '[sound]\nalso = ["mp3", "wma"]\n',
        'low.toml: sound.also[2] = "wma": expected one of mp3, flac, ogg',
    ),
    "a dynamic": (
        PHRASE + 'dynamic = "fff"\n',
        'low.toml: player.phrase[1].dynamic = "fff": expected one of pp, p, mp, mf, f, ff',
    ),
    "H": (
        PHRASE.replace("C4", "H4"),
        'low.toml: player.phrase[1].note = "H4": expected a note such as "C4", "Bb3" '
        'or "F#5"; "H" is not used here: write "B" for B natural, "Bb" for B flat; '
        'did you mean "B4"?',
    ),
    "small letter": (
        PHRASE.replace("C4", "c4"),
        'low.toml: player.phrase[1].note = "c4": expected a note such as "C4", "Bb3" '
        'or "F#5"; write the letter as a capital: "C"',
    ),
    "no note": (
        PHRASE.replace('note = "C4"', "length_s = 1"),
        'low.toml: player.phrase[1].note: missing; expected a note such as "C4", "Bb3" or "F#5"',
    ),
    "notes overlap": (
        PHRASE + '[[player.phrase]]\nnote = "D4"\nstart_s = 0.5\n',
        "low.toml: player.phrase[2].start_s = 0.5: expected 1 s or later: the note "
        "before lasts until then",
    ),
    "dynamic and pressure": (
        PHRASE + 'dynamic = "f"\npressure_kpa = 3\n',
        'low.toml: player.phrase[1].dynamic = "f": expected pressure_kpa or dynamic, not both',
    ),
    "vibrato": (
        PHRASE + "vibrato = { rate_hz = 12 }\n",
        "low.toml: player.phrase[1].vibrato.rate_hz = 12: expected a number from 3 to 9 Hz",
    ),
    "vibrato of what": (
        PHRASE + 'vibrato = { by = "knees" }\n',
        'low.toml: player.phrase[1].vibrato.by = "knees": expected one of lips, breath, slide',
    ),
    "vibrato by slide": (
        PHRASE + 'vibrato = { by = "slide" }\n',
        'low.toml: player.phrase[1].vibrato.by = "slide": expected lips or breath: it has no slide',
    ),
    "depth of the breath": (
        PHRASE + 'vibrato = { by = "breath", depth_cents = 9 }\n',
        "low.toml: player.phrase[1].vibrato.depth_cents = 9: expected depth_percent for a vibrato "
        "by breath",
    ),
    "a player of another kind": (
        SWEEP + 'steadiness = "profesional"\n',
        'low.toml: player.steadiness = "profesional": expected one of machine, professional, '
        "student, or a table with lip_drift_cents and breath_drift_percent; did you mean "
        "professional?",
    ),
    "steadiness as a number": (
        SWEEP + "steadiness = 3\n",
        "low.toml: player.steadiness = 3: expected one of machine, professional, student, or a "
        "table with lip_drift_cents and breath_drift_percent",
    ),
    "lips that drift too far": (
        SWEEP + "steadiness = { lip_drift_cents = 120 }\n",
        "low.toml: player.steadiness.lip_drift_cents = 120: expected a number from 0 to 100 cents",
    ),
    "a drift of something else": (
        SWEEP + "steadiness = { noise = 1 }\n",
        "low.toml: player.steadiness.noise: unknown key; expected one of lip_drift_cents, "
        "breath_drift_percent",
    ),
    "steadiness twice": (
        SWEEP + 'steadiness = "student"\nflutter_percent = 3\n',
        "low.toml: player.flutter_percent = 3: expected steadiness or flutter_percent, not both",
    ),
    "take 0": (
        SWEEP + "take = 0\n",
        "low.toml: player.take = 0: expected a whole number from 1 to 1000000",
    ),
    "an attack": (
        PHRASE + 'attack = "sudden"\n',
        'low.toml: player.phrase[1].attack = "sudden": expected one of plain, tongued, breath',
    ),
    "a bad tune item": (
        PHRASE.replace('[[player.phrase]]\nnote = "C4"', '[player]\ntune = "C4 1, D4, - 1, B 2"'),
        'low.toml: player.tune: item 2 "D4": expected a note and its beats, such as '
        '"C4 1", or "- 1" for a rest\n'
        'low.toml: player.tune: item 4 "B 2": expected a note such as "C4", "Bb3" or '
        '"F#5"',
    ),
    "a tune of rests": (
        PHRASE.replace('[[player.phrase]]\nnote = "C4"', '[player]\ntune = "- 1"'),
        'low.toml: player.tune = "- 1": expected at least one note',
    ),
    "tension and tune": (
        SWEEP.replace("= 5", '= 5\ntune = "C4 1"'),
        'low.toml: player.tune = "C4 1": expected either tension_hz or tune, not both',
    ),
    "tension without breath": (
        SWEEP.replace("pressure_kpa = 5\n", ""),
        "low.toml: player.pressure_kpa: missing; expected a number from 0 to 40 kPa, "
        "or breakpoints [[time_s, value], ...]",
    ),
    "a player who does nothing": (
        SWEEP.replace("tension_hz = 440\n", ""),
        "low.toml: player: expected tension_hz, tune or phrase",
    ),
    "no player": (
        SWEEP.replace("[player]\npressure_kpa = 5\ntension_hz = 440\n", ""),
        "low.toml: player: missing; expected a table with tension_hz, tune or phrase, or a "
        "[source] in its place",
    ),
    "player and source": (
        SWEEP + '[source]\nkind = "pop"\n',
        "low.toml: source: expected either [player] or [source], not both",
    ),
    "an unknown source": (
        POP.replace("pop", "impulse"),
        'low.toml: source.kind = "impulse": expected one of pop, breath, tone, flame',
    ),
    "a source without a kind": (
        POP.replace('kind = "pop"', "at_mm = 10"),
        "low.toml: source.kind: missing; expected one of pop, breath, tone, flame",
    ),
    "a source outside the tube": (
        POP + "at_mm = 1400\n",
        "low.toml: source.at_mm = 1400: outside the tube; expected a number from 0 to 1366.5 mm",
    ),
    "a slap on an open end": (
        POP + 'lip_end = "open"\n',
        'low.toml: source.lip_end = "open": expected "closed": a slap closes the lip end',
    ),
    "heat in a slap": (
        POP + "heat_w = 5\n",
        'low.toml: source.heat_w = 5: expected to be left out: "pop" takes at_mm, lip_end, '
        "strength_kpa, start_s",
    ),
    "a sweep that stands still": (
        POP.replace('"pop"', '"tone"\nsweep_hz = [100, 100]'),
        "low.toml: source.sweep_hz = [100, 100]: expected [from, to], two numbers from 20 to "
        "5000 Hz",
    ),
    "valves of nobody": (
        POP.replace('"pipe"', '"trumpet"\nvalves = "auto"'),
        'low.toml: instrument.valves = "auto": expected valves such as "0", "2" or "13"; "auto" '
        "needs a tune or a phrase",
    ),
    "the energy of nobody": (
        POP + "[show]\nenergy = true\n",
        "low.toml: show.energy = true: expected false: with a [source] nobody plays a note",
    ),
    "map upside down": (
        SWEEP + "[map]\ntension_hz = [900, 100]\n",
        "low.toml: map.tension_hz = [900, 100]: expected [from, to], two numbers "
        "from 20 to 2000 Hz, rising",
    ),
    "lips": (
        SWEEP + "[lips]\nrest_mm = [1.0]\n",
        "low.toml: lips.rest_mm = [1.0]: expected [x, y], two numbers from -5 to 5 mm",
    ),
    "a mouth without a place": (
        SWEEP + "[mouth]\nquality = 6\n",
        "low.toml: mouth: expected resonance_hz or vowel",
    ),
    "a mouth too high": (
        SWEEP + "[mouth]\nresonance_hz = 5000\n",
        "low.toml: mouth.resonance_hz = 5000: expected a number from 100 to 2000 Hz",
    ),
    "a tongue that goes back in time": (
        SWEEP + "[mouth]\nresonance_hz = [[1.0, 300.0], [0.5, 500.0]]\n",
        "low.toml: mouth.resonance_hz[2][1] = 0.5: expected a time after 1 s",
    ),
    "another vowel": (
        SWEEP + '[mouth]\nvowel = "oh"\n',
        'low.toml: mouth.vowel = "oh": expected one of ah, ee',
    ),
    "a vowel and its resonance": (
        SWEEP + '[mouth]\nvowel = "ah"\nresonance_hz = 500\n',
        "low.toml: mouth.resonance_hz = 500: expected either vowel or resonance_hz, not both",
    ),
    "a mouth given twice": (
        SWEEP + "[mouth]\nresonance_hz = 500\nvolume_ml = 50\npeak_pa_s_m3 = 1e7\n",
        "low.toml: mouth.volume_ml = 50: expected either peak_pa_s_m3 or volume_ml, not both",
    ),
    "damped twice": (
        SWEEP + "[mouth]\nresonance_hz = 500\nquality = 6\nglottis_pa_s_m3 = 1e5\n",
        "low.toml: mouth.quality = 6: expected either glottis_pa_s_m3 or quality, not both",
    ),
    "a throat too wide": (
        SWEEP + "[mouth]\nresonance_hz = 500\nglottis_pa_s_m3 = 10\n",
        "low.toml: mouth.glottis_pa_s_m3 = 10: expected a number from 1000 to 100000000 Pa s/m3",
    ),
    "a throat in words": (
        SWEEP + '[mouth]\nvowel = "ah"\nglottis_pa_s_m3 = "open"\n',
        'low.toml: mouth.glottis_pa_s_m3 = "open": expected a number from 1000 to 100000000 '
        "Pa s/m3",
    ),
    "a throat misspelt": (
        SWEEP + "[mouth]\nresonance_hz = 500\nglotis_pa_s_m3 = 1e5\n",
        "low.toml: mouth.glotis_pa_s_m3: unknown key; did you mean mouth.glottis_pa_s_m3?",
    ),
    "the mouth of nobody": (
        POP + "[mouth]\nresonance_hz = 500\n",
        "low.toml: mouth: expected no [mouth] beside a [source]: nobody blows",
    ),
    "variants with one name": (
        SWEEP + '[[variant]]\nname = "warm"\n[[variant]]\nname = "Warm"\n',
        'low.toml: variant[2].name = "Warm": expected another name: the folder of "warm" is taken',
    ),
    "variant without a name": (
        SWEEP + "[[variant]]\nair.breath = true\n",
        "low.toml: variant[1].name: missing; expected a text of up to 60 letters "
        "that names the variant's folder",
    ),
    "problem in a variant": (
        SWEEP + '[[variant]]\nname = "no bell"\ninstrument.bell = "non"\n',
        'low.toml: variant "no bell": instrument.bell = "non": expected one of none, '
        "gradual, late, a bore file (.toml)",
    ),
    "a problem of all variants is told once": (
        SWEEP.replace("= 5", "= 41") + '[[variant]]\nname = "warm"\nair.breath = true\n',
        "low.toml: player.pressure_kpa = 41: expected a number from 0 to 40 kPa",
    ),
    "two problems at once": (
        SWEEP.replace("= 5", "= -1").replace("440", "[[0, 10], [0, 100]]"),
        "low.toml: player.pressure_kpa = -1: expected a number from 0 to 40 kPa\n"
        "low.toml: player.tension_hz[1][2] = 10: expected a number from 20 to 2000 "
        "Hz\n"
        "low.toml: player.tension_hz[2][1] = 0: expected a time after 0 s",
    ),
}


@pytest.mark.parametrize("row", BAD_SCENES.values(), ids=BAD_SCENES)
def test_a_bad_scene_is_told_in_one_exact_sentence(told, row):
    text, message = row
    assert told(read_scene, "low.toml", text) == message


@pytest.mark.parametrize("text", [SWEEP, PHRASE, POP])
def test_the_scenes_that_are_broken_here_are_good(tmp_path, text):
    (tmp_path / "low.toml").write_text(text)
    assert read_scene(tmp_path / "low.toml").sound.length_s > 1


@pytest.mark.parametrize("reader", [read_scene, read_bore_file])
def test_a_file_that_cannot_be_read_is_told_by_its_name(told, tmp_path, reader):
    assert told(reader, "low.toml", b"title = '\xff'").startswith("low.toml:1: not UTF-8 text")
    (tmp_path / "week").mkdir()
    with pytest.raises(SceneError, match=r"^week: is a folder; expected a file$"):
        reader("week")
    with pytest.raises(SceneError, match=r"^week/none.toml: no such file$"):
        reader("week/none.toml")
    assert "nested too deeply" in told(reader, "low.toml", "a = " + "[" * 20_000)
    assert "low.toml: not TOML: " in told(reader, "low.toml", "a = " + "1" * 5000)
    assert told(reader, "low.toml", "#" * 4_000_001) == "low.toml: over 4 MB; expected a TOML file"


def test_the_path_is_told_as_it_was_given(told, tmp_path):
    (tmp_path / "week").mkdir()
    message = told(read_scene, "week/low.toml", SWEEP.replace("trumpet", "none at all"))
    assert message.startswith('week/low.toml: instrument.name = "none at all": expected one of')
