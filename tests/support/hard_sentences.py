"""Scenes made to refute sentences: short, and each near something that is easily told wrongly.

HARD: name to (TOML, sentences that the last take must have, parts of sentences that no take may
have).  Every sentence of every take is worked out once more besides.
"""


def scene(body, name="trumpet", length=1.0, more="") -> str:
    return f'[instrument]\nname = "{name}"\n{body}\n[sound]\nlength_s = {length}\n{more}\n'


def lips(tension, pressure, **how) -> str:
    return scene(f"[player]\ntension_hz = {tension}\npressure_kpa = {pressure}", **how)


def phrase(*notes, head="pressure_kpa = 8.0", **how) -> str:
    rows = "\n".join(f"[[player.phrase]]\n{n}" for n in notes)
    return scene(f"[player]\n{head}\n{rows}", **how)


def variant(name, *keys) -> str:
    return "\n".join(["[[variant]]", f'name = "{name}"', *keys, ""])


E4 = 'note = "E4"\nvalves = "12"\nlength_s = 0.8'
C5 = '{ note = "C5", length_s = 0.8 }'
PART_WAY = 'tune = "Bb3 1, D4 1"\ntempo_bpm = 120\ndynamic = "mf"'  # as sounding notes
BLOWN_TWICE = "[[0.0, 5.0], [1.0, 5.0], [1.05, 0.0], [1.8, 0.0], [1.85, 6.0], [3.0, 6.0]]"
SILENT = "The sound file is silent: there is no loudness to match."
GLIDED = "It glided and never jumped"
HARD = {
    "a smooth curve inside one slot": (
        lips("[[0.0, 300.0], [1.5, 330.0]]", "8.0", length=1.5),
        ["Played one note: G4 (written)."],
        ["jumped", GLIDED],
    ),
    "lips and breath stand still": (
        lips("420.0", "8.0"), ["Played one note: C5 (written)."], ["jumped", GLIDED],
    ),
    "by breath alone": (
        lips("[[0.0, 450.0], [0.2, 450.0], [0.6, 512.0]]",
             "[[0.0, 0.0], [0.05, 6.0], [0.7, 6.0], [2.2, 15.0]]", length=2.5),
        ["Played two notes: C5 E5 (written)."],
        ["jumped 2"],
    ),
    "nobody blows": (
        lips("420.0", "0.0"), ["No note sounded: nobody blew.", SILENT], ["More breath"],
    ),
    "too soft to hold": (
        lips("420.0", "0.5"),
        ["No note to name: a pitch was there for 0.06 s in all, too short or too unsteady. More "
         "breath, or a looser lip setting, may help."],
        ["Played"],
    ),
    "too short to be a note": (
        lips("420.0", "8.0", length=0.15),
        ["No note to name: a pitch was there for 0.11 s in all, too short or too unsteady."],
        ["Played", "may help"],
    ),
    "shorter than a frame": (lips("420.0", "8.0", length=0.05), [], ["Played", "may help"]),
    "much is still in the tube": (
        lips("420.0", "8.0", length=0.3), ["Played one note: C5 (written)."], [],
    ),
    "nothing holds it, nothing moves": (
        lips("300.0", "5.0", name="hailing_cone"),
        ["Lips and pitch stood still, at 398 Hz: no slot held it."],
        ["followed", GLIDED, "jumped"],
    ),
    "it glides, with a silence": (
        lips("[[0.0, 300.0], [3.0, 400.0]]", BLOWN_TWICE, name="hailing_cone", length=3.0),
        ["It glided and never jumped while it sounded."],
        ["jumped once"],
    ),
    "nothing holds it, but the lips leap": (
        lips("[[0.0, 250.0], [1.0, 260.0], [1.01, 400.0], [2.0, 420.0]]", "7.0",
             name="hailing_cone", length=2.0),
        ["The pitch followed the lips from 319 to 335 Hz, then from 504 to 532 Hz: nothing held it "
         "for long, and it jumped once on the way."],
        [GLIDED, "nothing held it.", "dropped", "rose"],
    ),
    "low lips on a mouthpiece": (
        lips("[[0.0, 120.0], [2.0, 200.0]]", "9.0", name="mouthpiece", length=2.0),
        ["The pitch followed the lips from 158 to 240 Hz: nothing held it.", f"{GLIDED}."],
        ["octave", "every second"],
    ),
    "two notes, the second one bent": (
        phrase('note = "G4"\nlength_s = 0.6', 'note = "C5"\nlength_s = 0.6\nbend_cents = -40',
               length=1.4),
        ["Played two notes: G4 C5 (written)."],
        ["Lipped"],
    ),
    "one note, lipped": (
        phrase('note = "C5"\nlength_s = 2.0\n'
               "bend_cents = [[0.0, 0.0], [0.6, 0.0], [0.9, -80.0], [2.0, -80.0]]", length=2.2),
        ["Played one note: C5 (written)."],
        ["two notes"],
    ),
    "the same note twice": (
        phrase('note = "C5"\nlength_s = 0.5', 'note = "C5"\nlength_s = 0.5', length=1.2),
        ["Played two notes: C5 C5 (written)."],
        ["one note"],
    ),
    "a slide under way": (
        lips("204.0", "[[0.0, 0.0], [0.02, 4.0]]", name="trombone", length=2.0).replace(
            '"trombone"', '"trombone"\nslide_position = [[0.3, 1.0], [1.9, 4.0]]'),
        ["Played one glide with the slide: Bb3 to G3 (written)."],
        ["sounds at", "held, then"],
    ),
    "a tune that nothing holds": (
        scene('[player]\ntune = "Bb3 1, D4 1, F4 1"\ntempo_bpm = 120\ndynamic = "f"',
              name="hailing_cone", length=2.0),
        ["Played three notes: Bb3 D4 F4 (written). The tube held none of them."],
        ["followed", GLIDED],
    ),
    "two causes at once": (
        phrase(E4) + variant("two", 'instrument.bell = "none"', "air.temperature_c = 10.0"),
        ["Changed: instrument.bell: as written -> none; air.temperature_c: 22 -> 10; the lips, set "
         "anew so that every note is in tune. All else was held."],
        [],
    ),
    "another valve under a bent note": (
        phrase(E4) + variant("lipped", 'player.phrase = [{ note = "C5", valves = "0", '
                                       "bend_cents = -100.0, length_s = 0.8 }]"),
        ["Changed: note 1, note: E4 -> C5; note 1, bend_cents: 0 -> -100; note 1, valves: 12 -> 0; "
         "the lips, set anew so that every note is in tune. All else was held."],
        [],
    ),
    "another number of notes": (
        phrase(E4, length=1.8) + variant("more", f"player.phrase = [{C5}, {C5}]"),
        ["Changed: player.phrase: the notes E4 -> the notes C5 C5; the lips, set anew so that "
         "every note is in tune. All else was held."],
        [],
    ),
    "a marking for a pressure": (
        phrase('note = "C5"\nlength_s = 0.8') + variant("marked", 'player.dynamic = "f"'),
        ["Changed: player.dynamic: mf -> f; player.pressure_kpa: 8 -> none; the lips, set anew so "
         "that every note is in tune. All else was held."],
        [],
    ),
    "a slap for a player": (
        lips("420.0", "8.0") + variant("slap", 'source = { kind = "pop", strength_kpa = 1.0 }'),
        ["Changed: source: none -> kind pop, at_mm 0, lip_end closed, strength_kpa 1, start_s 0.1; "
         "player: left out. All else was held."],
        [],
    ),
    "another player": (
        scene(f'[notes]\nread_as = "sounding"\n[player]\n{PART_WAY}', length=1.4)
        + variant("euphonium", 'instrument.name = "euphonium"'),
        ["Changed: instrument.name: trumpet -> euphonium; the player, who goes with the "
         "instrument: small lips -> large lips; the lips, set anew so that every note is in tune; "
         "the breath, which goes with the note. All else was held.",
         "Played two notes: Bb3 D4 (sounding)."],
        ["(written)"],
    ),
    "another length": (
        '[instrument]\nname = "trumpet"\n[player]\ntune = "C5 1"\ntempo_bpm = 120\n'
        + variant("slower", "player.tempo_bpm = 60"),
        ["Changed: player.tempo_bpm: 120 -> 60; the lips, set anew so that every note is in tune; "
         "the length, which goes with what is played: 1 -> 1.5 s. All else was held."],
        [],
    ),
    "heard from elsewhere": (
        phrase(E4) + variant("behind", "sound.angle_deg = 180.0"),
        ["Changed: sound.angle_deg: 0 -> 180. All else was held."],
        ["set anew"],
    ),
    "a loudness out of reach": (
        lips("700.0", "12.0", more="loudness_lufs = -5.0"),
        ["Kept at -11.3 LUFS, below the -5 LUFS asked for: its peaks would have passed -1 dBTP."],
        [],
    ),
    "a calibrated file": (lips("420.0", "8.0", more='level = "calibrated"'), [], ["LUFS"]),
    "a mouth that is damped": (
        lips("420.0", "12.0") + "[mouth]\nresonance_hz = [[0.2, 300.0], [0.8, 600.0]]\n"
        "volume_ml = 50.0\nglottis_pa_s_m3 = 4e6\n",
        ["The mouth is damped too much to resonate: its quality is 0.38 at first."],
        ["The mouth resonates", "The tongue moves"],
    ),
    "a mouth that is almost damped": (
        lips("420.0", "8.0") + "[mouth]\nresonance_hz = 500\nquality = 0.65\n"
        + variant("damped", "mouth.quality = 0.64"),
        ["The mouth is damped too much to resonate: its quality is 0.64."],
        ["The player's throat"],
    ),
    "a mouth that stays": (
        lips("420.0", "8.0") + '[mouth]\nvowel = "ee"\nquality = 4.0\n'
        + variant("low", "mouth.resonance_hz = 300.0", "mouth.glottis_pa_s_m3 = 1e6"),
        ["Changed: mouth.resonance_hz: ee -> 300; mouth.glottis_pa_s_m3: quality 4 -> 1000000. "
         "All else was held."],
        ["tongue"],
    ),
    "a tongue that moves while the lips do": (
        lips("[[0.0, 450.0], [2.0, 520.0]]", "8.0", length=2.0)
        + "[mouth]\nresonance_hz = [[0.5, 300.0], [1.5, 600.0]]\nvolume_ml = 30.0\n",
        ["The tongue moves, and the mouth's resonance with it, between 300 and 600 Hz: its peak "
         "is at most 15 MPa s/m3, the tube's highest 132."],
        ["alone"],
    ),
    "a note that jumps before the tongue moves": (
        lips("[[0.0, 450.0], [1.0, 540.0]]", "8.0", length=2.0)
        + "[mouth]\nresonance_hz = [[1.5, 300.0], [1.9, 400.0]]\n",
        [],
        ["alone"],
    ),
    "a note that the tongue makes jump": (
        lips("800.0", "12.0", length=2.0)
        + "[mouth]\nresonance_hz = [[0.5, 400.0], [1.5, 850.0]]\n",
        [],
        ["stood still, and"],
    ),
    "a warm column of air": (
        lips("420.0", "8.0") + variant("warm", "air.breath = true"),
        ["Changed: air.breath: false -> true. All else was held."],
        ["set anew"],
    ),
    "rushing air": (
        '[instrument]\nname = "trumpet"\n[source]\nkind = "breath"\nflow_l_s = 0.02\n[sound]\n'
        "length_s = 1.0\n",
        ["Only rushing air, which has no pitch of its own; the tube gives it one."],
        ["lie near"],
    ),
    "a slap too short to ring out": (
        '[instrument]\nname = "trumpet"\n[source]\nkind = "pop"\nstrength_kpa = 1.0\n[sound]\n'
        "length_s = 0.12\n",
        [],
        ["are the tube's own"],
    ),
    "at the player's ear": (
        lips("420.0", "12.0", more='place = "player"'), [], ["at 1 m"],
    ),
    "a room for a sound cut short": (
        lips("420.0", "8.0", length=0.3, more='room = "hall"\nangle_deg = 60.0'),
        ["Played one note: C5 (written)."],
        ["Two ears"],
    ),
    "a room in which nobody blows": (
        lips("420.0", "0.0", more='room = "practice room"\nstereo = true'),
        ["No note sounded: nobody blew.", SILENT,
         "Heard in a made-up practice room of 4.2 x 3.1 x 2.6 m, in which sound fades by 60 dB in "
         "0.40 s.", "Two ears 17 cm apart, without a head between: for headphones."],
        ["walls send"],
    ),
    "the player in a room of one's own": (
        lips("420.0", "10.0", more='place = "player"\nstereo = true\n'
             "room = { size_m = [5.5, 4.0, 3.0], reverberation_s = 0.9 }"),
        ["Two ears 17 cm apart, without a head between: for headphones."],
        ["at 1 m"],
    ),
    "a slap in a hall": (
        '[instrument]\nname = "trumpet"\n[source]\nkind = "pop"\nstrength_kpa = 1.0\n[sound]\n'
        'length_s = 1.0\nroom = "hall"\n' + variant("free", 'sound.room = "none"'),
        ["Changed: sound.room: hall -> none. All else was held."],
        [],
    ),
    "another room": (
        lips("420.0", "8.0", more='room = "hall"')
        + variant("larger", "sound.room = { size_m = [40, 20, 12], reverberation_s = 2.5 }"),
        ["Changed: sound.room: hall -> size_m [40.0, 20.0, 12.0], reverberation_s 2.5. All else "
         "was held."],
        [],
    ),
    "lips that swing outward": (
        lips("[[0.0, 300.0], [2.0, 600.0]]", "9.0", length=2.0) + '[lips]\nmotion = "swing"\n',
        ["Held most firmly: F5 (written), lock 0.91."],
        ["lock 1.", "over 1"],
    ),
}  # fmt: skip
