// Note keys: lips, breath and fingers of a note, as the table of this horn has them.

const REACHED = 0.01, LEFT = 0.04, ARRIVED = 0.1, RISE = 0.02; // s: as live_notes.py tries them
const RINGS = 0.25; // s
const SETTLED = 0.06; // s in which lips are at the setting of a note out of rest: short_note.py
const ROW = "QWERTYUIOP", DEGREES = [0, 2, 4, 5, 7, 9, 11, 12, 14, 16]; // keys; semitones over a C
const down = []; // { key, semitone } held, the last one sounds
const sounds = { bend: 0, force: 1, first: 0, semitone: null, last: 0 };

const rowOf = (semitone) => tubeHas().notes.find((n) => n.semitone === semitone);

/** Whether the tube has every note of the scale: one without valves has what its slots rest on. */
const chromatic = () => state.tube === 0 && (SLIDES || HELD.numbers.length > 0);

/** The sounding semitone of a key of the row; undefined where there is none. */
const semitoneOf = (step, sharp = 0) => (chromatic() ? sounds.first + DEGREES[step] + sharp : tubeHas().notes[sounds.first + step]?.semitone);

/** Where the row of keys begins: the written C under the middle of the tube's notes, or the lowest
 * note of a few. */
function home() {
  const { notes, up } = tubeHas();
  sounds.first = 0;
  if (chromatic() && notes.length) {
    const middle = (notes[0].semitone + notes[notes.length - 1].semitone) / 2 + up;
    sounds.first = 12 * Math.round((middle - 9) / 12) - up;
  }
  showKeys();
}

function octave(way) {
  const { notes } = tubeHas(), next = sounds.first + way * (chromatic() ? 12 : 5);
  const there = chromatic() ? notes.some((n) => n.semitone >= next && n.semitone <= next + 17) : next >= 0 && next < notes.length;
  if (there) sounds.first = next;
  showKeys();
}

function showKeys() {
  for (const key of document.querySelectorAll(".key")) {
    const semitone = semitoneOf(Number(key.dataset.step)), there = semitone !== undefined && Boolean(rowOf(semitone));
    const name = there ? noteName(data.a4_hz * 2 ** ((semitone - 69) / 12), tubeHas().up) : "–";
    key.textContent = name; key.disabled = !there;
    key.setAttribute("aria-label", `${words.note_key} ${name}`);
    key.setAttribute("aria-pressed", String(there && down.some((d) => d.semitone === semitone)));
  }
}

/** Lips, breath and fingers go over to a note; out of another one without a new start. */
function playNote(semitone) {
  const row = rowOf(semitone);
  if (!row) { tell(words.no_note); return false; }
  if (!live.graph && !live.ready) { begin().then(() => live.graph && down.some((d) => d.semitone === semitone) && playNote(semitone)); return true; }
  if (!live.graph) begin();
  const slurred = state.blowing, before = sounds.partial, rises = semitone > sounds.last;
  // a note that has just ended still rings in the tube: lips come out of it as in a slur
  const near = slurred || live.graph.context.currentTime - (gesture.rested ?? -1) < RINGS;
  Object.assign(sounds, { semitone, last: semitone, partial: row.partial });
  if (SLIDES) { if (row.position !== state.position) glideTo(row.position); } else press(row.valves);
  const there = row.tension_hz * 2 ** (sounds.bend / 1200);
  const way = near ? (rises ? row.rises : row.falls) : row.begins, first = way * there;
  state.tension = there; state.pressure = row.pressure_pa * sounds.force;
  if (slurred && before === row.partial) drive("tension", [[VALVE_S, there]]);
  else if (near) drive("tension", [[REACHED, first], [LEFT, first], [ARRIVED, there]]);
  else drive("tension", [[0.001, first], [SETTLED, there]]);
  if (slurred) drive("pressure", [[RISE, state.pressure]]);
  else blow(true);
  return true;
}
const VALVE_S = 0.035; // s of a valve's way, in which lips of one partial follow

/** The slide goes to a place as a hand does, in steps of the short fades. */
let going = null;
function glideTo(position) {
  const from = state.position, began = performance.now(), lasts = 100;
  clearInterval(going);
  const step = () => {
    const way = Math.min(1, (performance.now() - began) / lasts);
    slideTo(from + (position - from) * (0.5 - 0.5 * Math.cos(Math.PI * way)));
    if (way === 1) clearInterval(going);
  };
  going = setInterval(step, 16);
  step();
}

function noteOn(key, semitone) {
  if (down.some((d) => d.key === key)) return;
  if (!playNote(semitone)) return;
  down.push({ key, semitone });
  showKeys();
}

/** A key comes up: the note held before goes on, or the breath ends. */
function noteOff(key) {
  const at = down.findIndex((d) => d.key === key);
  if (at < 0) return;
  down.splice(at, 1);
  if (at === down.length) {
    if (down.length) playNote(down[down.length - 1].semitone);
    else { sounds.semitone = null; blow(false); }
  }
  showKeys();
}

function letGo() { while (down.length) noteOff(down[down.length - 1].key); }

/** Lips bent by cents of their setting, and breath by a factor, while a note is held. */
function bend(by_cents) {
  const share = 2 ** ((by_cents - sounds.bend) / 1200);
  sounds.bend = by_cents;
  if (sounds.semitone !== null) { state.tension *= share; sendLips(); }
}
function force(factor) {
  sounds.force = factor;
  const row = sounds.semitone === null ? null : rowOf(sounds.semitone);
  if (row) { state.pressure = Math.min(TOP, row.pressure_pa * factor); sendBreath(); }
}
