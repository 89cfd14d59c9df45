"""Every word of the live page, in one table that can be translated."""

from lipmodel.output.pages.care import CHILDREN, START_LOW

WORDS = {
    "title": "The live horn",
    "intro": "Move across the field to set the lips, up for more breath, and hold to blow. The "
    "horn answers at once: the note waits in a slot, then jumps.",
    "care": f"{START_LOW} A real horn played like this is loud: rest your ears. {CHILDREN} "
    "On a real horn do not blow as hard as the field allows: it can make one dizzy or faint and "
    "harms lips and ears; leave limits to a qualified teacher.",
    "start": "Start the horn",
    "stop": "Stop",
    "volume": "Volume",
    "field": "Playing field: lip setting across, breath up. Arrow keys move, the space bar blows.",
    "lips_axis": "Lip setting in Hz (not the note)",
    "breath_axis": "Breath in kPa",
    "heard_axis": "Note heard in Hz",
    "path": "Your path: note heard over lip setting; rising lips solid, falling lips dashed",
    "harmonics": "Harmonics of the sound over the peaks of the tube",
    "spectrum_axes": "Frequency in Hz; level in dB under the highest",
    "tube": "Tube",
    "valves": "Valves",
    "slide": "Slide position",
    "motion": "Lips move",
    "both": "swing and lift",
    "swing": "swing only",
    "lift": "lift only",
    "player": "Player",
    "firm": "Lips grow firmer with the breath",
    "led": "Mouth resonance",
    "resonance": "Mouth at",
    "mouth_mark": "mouth",
    "blow": "Hold to blow",
    "keep": "Save the last gesture as a scene",
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
    "ready": "Ready: hold to blow.",
    "nothing": "Nothing has been blown yet.",
    "saved": "Saved. Play it in full with: lipmodel render gesture.toml",
    "hidden": "Stopped: the page was hidden. Press Start to go on.",
    "twice": "Stopped: the horn was started on another page.",
    "slow": "This machine is too slow for 48 kHz: now at half the rate. High notes are less exact.",
    "no_device": "No sound device answers here.",
    "no_worklet": "This browser cannot run the horn: it has no audio worklet.",
    "keys": "Keys: arrows set lips and breath, space blows, 1 2 3 press valves, T next tube, "
    "M how the lips move, A and S move the mouth down and up, Escape stops.",
    "switching": "Valves go down in 35 ms, a slide in 100 ms, and the note goes on meanwhile; "
    "half-pressed valves are not modelled. A switch of tube lets the old note fade in 50 ms while "
    "the new one begins.",
    "linear": "Loud waves do not grow steep here: render the scene for that.",
}
