"""Every word of the live page, in one table that can be translated."""

from lipmodel.output.pages.care import CHILDREN, START_LOW

WORDS = {
    "title": "The live horn",
    "care": f"{START_LOW} {CHILDREN} A real horn played like this is loud, and blowing as hard as "
    "the field allows can make one dizzy or faint and harms lips and ears: leave limits to a "
    "qualified teacher.",
    "start": "Start",
    "stop": "Stop",
    "volume": "Volume",
    "level": "dB",
    "stage": "Horn",
    "hands": "Valves, slide and note keys",
    "more": "More",
    "less": "Close",
    "field": "Playing field: lip setting across, breath up. Arrow keys move, the space bar blows.",
    "lips_axis": "Lip setting in Hz (not the note)",
    "breath_axis": "Breath in kPa",
    "heard_axis": "Note heard",
    "stairs": "Staircase: note heard over lip setting; rising lips thick, falling lips thin",
    "tuner": "Cents off the nearest note of the piano",
    "harmonics": "Harmonics of the sound over the peaks of the tube",
    "spectrum_axes": "Frequency in Hz; level in dB under the highest",
    "tube": "Tube",
    "valve": "Valve",
    "slide": "Slide",
    "motion": "Lips move",
    "both": "swing and lift",
    "swing": "swing only",
    "lift": "lift only",
    "player": "Player",
    "follow": "Breath follows lips",
    "clear": "Wipe",
    "clear_help": "Wipe the staircase",
    "firm": "Lips grow firmer with the breath",
    "led": "Mouth resonance",
    "resonance": "Mouth at",
    "mouth_mark": "mouth",
    "blow": "Hold to blow",
    "keep": "Save the gesture as a scene",
    "wav": "Save it as a sound (WAV)",
    "midi": "Listen to a MIDI keyboard",
    "midi_on": "MIDI: keys play notes, breath (controller 2) blows, the wheel bends the lips, "
    "the pedal keeps the breath going.",
    "midi_none": "No MIDI instrument may be used here.",
    "octave_down": "Octave lower",
    "octave_up": "Octave higher",
    "note_key": "Note",
    "note": "Note (written)",
    "sounding": "Sounding",
    "cents": "Off its resonance",
    "lock": "Lock over the last movement",
    "loudness": "Level",
    "lock_below": "less than 0: moves further than the lips",
    "lock_above": "over 1: moves against the lips",
    "lips": "Lips",
    "breath": "Breath",
    "silent": "silent",
    "flat": "flat",
    "sharp": "sharp",
    "slots": "Pale bands: where a partial holds, at 6 and 12 kPa, lips rising, without the mouth's "
    "resonance, for lips that stay as firm as they are.",
    "slots_firm": "Pale bands: where a partial holds, at 6 and 12 kPa, lips rising, without the "
    "mouth's resonance, for lips that grow firmer with the breath.",
    "mouth_help": "With mouth resonance ticked you move the mouth too, as the tongue does: by the "
    "slider, by the mouse wheel over the field, by a second finger that goes up or down, by the "
    "keys A and S. Hold the lips still near the end of a band and move the mouth: the note may "
    "jump. How strongly a mouth resonates is a guess of ours.",
    "firm_help": "Lips that grow firmer with the breath: whoever blows harder presses them harder. "
    "The law is ours; scenes that play notes follow it too.",
    "follow_help": "Breath follows lips: the breath of a middle mezzo-forte, and more where high "
    "notes need it, so that one finger sweeps at about one loudness.",
    "notes_help": "Note keys set lips, breath and fingers for a note as a player would at "
    "mezzo-forte. Hold one, press the next: a slur. A tube without valves has the notes on which "
    "its slots rest, and no others.",
    "nothing": "Nothing has been blown yet.",
    "saved": "Saved. Play it in full with: lipmodel render gesture.toml",
    "saved_wav": "Saved as gesture.wav, as loud as at full volume.",
    "long": "The first two minutes are kept.",
    "hidden": "Stopped: the page was hidden. Press to play on.",
    "twice": "Stopped: the horn was started on another page.",
    "slow": "This machine is too slow for 48 kHz: now at half the rate. High notes are less exact.",
    "no_device": "No sound device answers here.",
    "no_worklet": "This browser cannot run the horn: it has no audio worklet.",
    "no_note": "This tube does not play that note.",
    "keys": "Keys: arrows set lips and breath, space blows wherever you are, 1 2 3 4 press valves "
    "while they are held (or places of a slide; comma and full stop move it a little), Q to P are "
    "the notes of the scale, with shift half a tone higher, Z and X an octave lower and higher, "
    "B next tube, N how the lips move, F breath follows lips, A and S move the mouth down and up, "
    "Enter presses what is focused, Escape stops.",
    "switching": "Valves go down in 35 ms, a slide follows the hand, and the note goes on "
    "meanwhile; half-pressed valves are not modelled. A switch of tube lets the old note fade in "
    "50 ms while the new one begins.",
    "linear": "Loud waves do not grow steep here: render the scene for that.",
    "tour": "Tour",
    "tour_next": "Next",
    "tour_end": "End",
    "tour_up": "Press low at the left of the field and slide slowly to the right. Does the note "
    "glide, or does it wait and jump?",
    "tour_down": "Now from the right back to the left, as slowly. Does it jump at the same places?",
    "tour_bell": "Now without the bell: slide slowly up again, over the staircase of before. "
    "Which steps have moved?",
    "tour_cone": "Now a hailing cone, rolled of card: the same lips, the same slow way up. Where "
    "have the steps gone?",
    "tour_other": "Now another tube, the {}: the same slow way up. Where are its steps?",
    "tour_valves": "Back on the horn: hold one note and press valves. The lips stay; what does "
    "the note do?",
    "tour_slide": "Back on the horn: hold one note and move the slide. The lips stay; what does "
    "the note do?",
    "tour_breath": "Stay on one lip setting and go slowly up the field: more breath. What changes "
    "besides the loudness?",
    "tour_keys": "Now the note keys: hold one, press the next. Watch where the lips go.",
}
