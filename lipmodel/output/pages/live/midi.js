// A MIDI instrument, where the browser lets one in: keys, breath, wheel, pedal (MIDI 1.0).

const NOTE_OFF = 0x80, NOTE_ON = 0x90, CONTROL = 0xb0, WHEEL = 0xe0;
const BREATH = 2, PEDAL = 64, MIDDLE = 64, BENT = 300; // controllers; mezzo-forte; cents of the lips

function heardMidi([status, one, two]) {
  const kind = status & 0xf0, key = `midi${one}`;
  if (kind === NOTE_ON && two > 0) noteOn(key, one);
  else if (kind === NOTE_OFF || kind === NOTE_ON) noteOff(key);
  else if (kind === WHEEL) bend(BENT * ((one | (two << 7)) - 8192) / 8192);
  else if (kind === CONTROL && one === BREATH) force(two === 0 ? 0 : 2 ** ((two - MIDDLE) / MIDDLE));
  else if (kind === CONTROL && one === PEDAL) latch(two >= 64);
}

/** Held down the breath goes on when the keys come up; let go it ends, if no key is held. */
function latch(on) {
  state.latch = on;
  if (!on && !down.length && state.blowing) { sounds.semitone = null; blow(false); }
}

async function listenToMidi() {
  try {
    const access = await navigator.requestMIDIAccess();
    const join = () => { for (const input of access.inputs.values()) input.onmidimessage = (e) => heardMidi(e.data); };
    access.onstatechange = join;
    join();
    tell(access.inputs.size ? words.midi_on : words.midi_none);
  } catch { tell(words.midi_none); }
}
by("midi").hidden = !navigator.requestMIDIAccess;
by("midi").addEventListener("click", listenToMidi);
