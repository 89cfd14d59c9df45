// What the player does, and how it gets to the horn: every control is driven, and kept, one way.

const by = (id) => document.getElementById(id);
const { lowest_hz: DEEPEST, highest_hz: HIGHEST } = data.mouth;
const HELD = data.held, SLIDES = Boolean(HELD.slide);
const state = {
  tension: Math.sqrt(LOW * HIGH) * 0.9, pressure: 8000, blowing: false, motion: "both", which: 0,
  tube: 0, valves: HELD.valves, position: HELD.position, latch: false, follow: false,
  firm: data.firm, led: data.mouth.on, resonance: data.mouth.resonance_hz,
};
const live = { graph: null, ready: null, heard: null, seen: [], owed: 0, pressed: false, preparing: null };
window.live = live; window.liveState = state;
const STEP_S = 0.005, FIRST_BLOW = 600; // s in which a control steps; ms that a first touch sounds
const SLIDE_S = 0.02; // s of one of the short fades that follow a slide
let other = null;
try { other = new BroadcastChannel("lipmodel-live"); } catch { /* a file may have none */ }

const tell = (text) => { by("told").textContent = text; };

/** The row of data.choices that stands for what is held: a slide's nearest place. */
function choiceNumber() {
  if (state.tube !== 0) return state.tube;
  const label = SLIDES ? String(Math.round(state.position)) : state.valves;
  if (label === String(SLIDES ? Math.round(HELD.position) : HELD.valves)) return 0;
  const found = data.choices.findIndex((c) => c.group === (SLIDES ? "slide" : "valves") && c.label === label);
  return Math.max(found, 0);
}
const choice = () => data.choices[choiceNumber()];
const tubeHas = () => data.choices[state.tube];

/** A horn that waits for the first press: made while nothing is asked of it. */
async function prepare() {
  if (live.ready || live.graph || typeof AudioWorkletNode === "undefined") return;
  const made = async () => {
    try {
      const context = new AudioContext({ sampleRate: data.rates[state.which], latencyHint: "interactive" });
      live.ready = await makeGraph(context, state.which);
      if (!live.graph) await context.suspend(); // it costs nothing until it is played
    } catch { live.ready = null; }
    live.preparing = null;
  };
  live.preparing ??= made();
  await live.preparing;
}

async function begin() {
  if (live.graph) return stop("");
  if (typeof AudioWorkletNode === "undefined") return tell(words.no_worklet);
  if (!live.ready) await prepare();
  if (!live.ready) return tell(words.no_device);
  const graph = live.ready, { context } = graph;
  live.graph = graph; live.ready = null;
  context.resume().catch(() => tell(words.no_device));
  graph.node.port.onmessage = slower;
  graph.node.onprocessorerror = () => tell(words.no_worklet);
  setTimeout(() => { if (live.graph === graph && context.state === "running" && context.currentTime === 0) tell(words.no_device); }, 2000);
  forget();
  for (const name of CONTROLS) latest[name] = []; // another clock
  graph.node.port.postMessage({ tube: choiceNumber(), motion: state.motion, mouth: state.led, firm: state.firm });
  if (SLIDES && state.tube === 0) slideTo(state.position);
  sendLips(); sendBreath(); sendMouth();
  volume();
  by("start").textContent = words.stop; by("start").classList.add("on");
  tell("");
  if (other) other.postMessage("started");
}

function stop(text) {
  if (!live.graph) return;
  live.graph.context.close();
  live.graph = null; state.blowing = false; live.heard = null;
  by("start").textContent = words.start; by("start").classList.remove("on");
  tell(text);
  prepare();
}

async function slower({ data: what }) {
  if (what !== "slow" || state.which + 1 >= data.rates.length) return;
  state.which += 1;
  stop("");
  await begin();
  tell(words.slow);
}

/** Let a control go through [[s from now, value], ...]; what was to come is forgotten. */
function drive(name, points) {
  const { graph } = live;
  if (!graph) return;
  const now = graph.context.currentTime, param = graph[name], from = keptAt(name, now) ?? points[0][1];
  param.cancelScheduledValues(0);
  param.setValueAtTime(from, now);
  for (const [after, value] of points) param.linearRampToValueAtTime(value, now + after);
  keepPoints(name, now, from, points);
}

const sendLips = () => drive("tension", [[STEP_S, state.tension]]);
const sendBreath = () => drive("pressure", [[STEP_S, state.blowing ? state.pressure : 0]]);
const sendMouth = () => drive("resonance", [[STEP_S, state.resonance]]);

function volume() {
  if (live.graph) live.graph.volume.gain.setTargetAtTime(Number(by("volume").value), live.graph.context.currentTime, 0.02);
}

/** Breath on or off; the first press starts the horn. */
function blow(on) {
  live.pressed = on;
  if (on && !live.graph) {
    if (!live.ready) { begin().then(() => live.pressed && live.graph && blow(true)); return; }
    begin();
  }
  if (!on && state.latch) return;
  if (on && !state.blowing) { beginGesture(); tread(state.tube, state.tension, null); }
  state.blowing = on;
  by("blow").setAttribute("aria-pressed", String(on));
  sendBreath();
}

/** A browser wakes a sound only when the first finger has left: what was pressed is played then,
 * and ends by itself with `end`. */
function release(end = () => blow(false)) {
  const owed = live.owed && performance.now() - live.owed < FIRST_BLOW;
  live.owed = 0;
  if (owed && live.graph) live.graph.context.resume().then(() => setTimeout(end, FIRST_BLOW));
  else end();
}

/** Breath in Pa of mezzo-forte for lips at a setting. */
function evenBreath(hz) {
  const even = data.field.even_pa, at = (even.length - 1) * Math.log(hz / LOW) / Math.log(HIGH / LOW);
  const i = Math.min(even.length - 2, Math.max(0, Math.floor(at)));
  return even[i] + (at - i) * (even[i + 1] - even[i]);
}

function set(tension, pressure) {
  state.tension = Math.min(HIGH, Math.max(LOW, tension));
  state.pressure = state.follow ? evenBreath(state.tension) : Math.min(TOP, Math.max(0, pressure));
  sendLips(); sendBreath();
}

function follow(on) {
  state.follow = on; by("follow").checked = on;
  set(state.tension, state.pressure);
}

/** The mouth's resonance in Hz, wherever it is moved from. */
function lead(hz) {
  state.resonance = Math.min(HIGHEST, Math.max(DEEPEST, hz));
  by("resonance").value = Math.round(state.resonance);
  by("resonance-hz").textContent = `${state.resonance.toFixed(0)} Hz`;
  sendMouth();
}

/** The mouth's resonance on or off, lips that grow firmer or not: another player, another gesture. */
function plays(how) {
  Object.assign(state, how);
  by("led").checked = state.led; by("firm").checked = state.firm; by("resonance").disabled = !state.led;
  by("motion").value = state.motion;
  forget();
  live.graph?.node.port.postMessage({ mouth: state.led, firm: state.firm, ...(how.motion && { motion: how.motion }) });
}

/** Another tube behind the mouthpiece, with valves up and slide where it was first. */
function pick(number) {
  state.tube = number; state.valves = HELD.valves; state.position = HELD.position;
  live.seen = [];
  by("tube").value = String(number);
  forget();
  live.graph?.node.port.postMessage({ tube: number });
  if (state.blowing) beginGesture();
  showHands();
}

/** Valves down, as "13"; the note goes on. */
function press(valves) {
  if (state.tube !== 0 || valves === state.valves) return;
  state.valves = valves; live.seen = [];
  live.graph?.node.port.postMessage({ tube: choiceNumber() });
  keepFingers();
  showHands();
}

function finger(number, down) {
  if (!HELD.numbers.includes(Number(number))) return;
  const others = state.valves.replace("0", "").replace(number, "");
  press([...(down ? others + number : others)].sort().join("") || "0");
}

/** The taps of the lines with the slide at a place: delays as the tube grows, shelves between those
 * of the whole places. */
function slideTap(position) {
  const known = (p) => data.choices.find((c, i) => (i === 0 && HELD.position === p) || (c.group === "slide" && c.label === String(p)))
    .loops[state.which].tap;
  const low = Math.min(6, Math.floor(position)), ends = [known(low), known(low + 1)], tap = [...ends[0]];
  const grown = (p) => 2 ** ((p - 1) / 12), share = (grown(position) - grown(low)) / (grown(low + 1) - grown(low));
  const delay = (t, m) => t[m] + (1 - t[m + 1]) / (1 + t[m + 1]);
  for (let m = 0; m < tap.length; m += 7) {
    const d = delay(ends[0], m) + share * (delay(ends[1], m) - delay(ends[0], m)), whole = Math.floor(d - 0.5), part = d - whole;
    tap[m] = whole; tap[m + 1] = (1 - part) / (1 + part);
    for (let j = 2; j < 7; j++) tap[m + j] = ends[0][m + j] + share * (ends[1][m + j] - ends[0][m + j]);
  }
  return tap;
}

function slideTo(position) {
  if (!SLIDES || state.tube !== 0) return;
  state.position = Math.min(7, Math.max(1, position)); live.seen = [];
  live.graph?.node.port.postMessage({ tap: slideTap(state.position), travel_s: SLIDE_S });
  keepFingers();
  showHands();
}

/** Pistons and slide as they are. */
function showHands() {
  for (const n of HELD.numbers) {
    by(`piston-${n}`).setAttribute("aria-pressed", String(state.valves.includes(n)));
    by(`piston-${n}`).disabled = state.tube !== 0;
  }
  if (!SLIDES) return;
  by("slide").value = state.position; by("slide").disabled = state.tube !== 0;
  by("slide-at").textContent = state.position.toFixed(1);
}
