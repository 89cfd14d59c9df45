// The live horn: hands, keys, what is read, what is kept.

const by = (id) => document.getElementById(id);
const { lowest_hz: DEEPEST, highest_hz: HIGHEST } = data.mouth;
const state = {
  tension: Math.sqrt(LOW * HIGH) * 0.9, pressure: 8000, blowing: false, choice: 0, motion: "both", which: 0,
  firm: data.firm, led: data.mouth.on, resonance: data.mouth.resonance_hz,
};
const live = { graph: null, path: [], gesture: [], heard: null, seen: [] };
window.live = live; window.liveState = state;
const LONGEST = 60, KEPT = 600; // s of a gesture; points of the path
const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
const EVERY = calm ? 200 : 33; // ms between two pictures
let other = null;
try { other = new BroadcastChannel("lipmodel-live"); } catch { /* a file may have none */ }

const tell = (text) => { by("told").textContent = text; };
const choice = () => data.choices[state.choice];

async function begin() {
  if (live.graph) return stop(words.start);
  if (typeof AudioWorkletNode === "undefined") return tell(words.no_worklet);
  try {
    const context = new AudioContext({ sampleRate: data.rates[state.which], latencyHint: "interactive" });
    live.graph = await makeGraph(context, state.which);
    await context.resume();
    live.graph.node.port.onmessage = slower;
    live.graph.node.onprocessorerror = () => tell(words.no_worklet);
    setTimeout(() => { if (live.graph && context.currentTime === 0) tell(words.no_device); }, 2000);
  } catch {
    live.graph = null;
    return tell(words.no_device);
  }
  send(true);
  volume();
  by("start").textContent = words.stop; by("start").classList.add("on");
  tell(words.ready);
  if (other) other.postMessage("started");
}

function stop(text) {
  if (!live.graph) return;
  live.graph.context.close();
  live.graph = null; state.blowing = false; live.heard = null;
  by("start").textContent = words.start; by("start").classList.remove("on");
  tell(text === words.start ? "" : text);
}

async function slower({ data: what }) {
  if (what !== "slow" || state.which + 1 >= data.rates.length) return;
  stop("");
  state.which += 1;
  await begin();
  tell(words.slow);
}

/** Lips, breath and mouth to the horn, at its next quantum; `all`: what is chosen too. */
function send(all = false) {
  const graph = live.graph;
  if (!graph) return;
  graph.tension.value = state.tension;
  graph.pressure.value = state.blowing ? state.pressure : 0;
  graph.resonance.value = state.resonance;
  if (all) graph.node.port.postMessage({ tube: state.choice, motion: state.motion, mouth: state.led, firm: state.firm });
}

function volume() {
  if (live.graph) live.graph.volume.gain.setTargetAtTime(Number(by("volume").value), live.graph.context.currentTime, 0.02);
}

function blow(on) {
  if (on && !live.graph) { begin(); return; }
  if (on && !state.blowing) { live.gesture = []; live.path = []; }
  if (on) tell("");
  state.blowing = on;
  by("blow").setAttribute("aria-pressed", String(on));
  send(); note();
}

function set(tension, pressure) {
  state.tension = Math.min(HIGH, Math.max(LOW, tension));
  state.pressure = Math.min(TOP, Math.max(0, pressure));
  send(); note();
}

/** The mouth's resonance in Hz, wherever it is moved from. */
function lead(hz) {
  state.resonance = Math.min(HIGHEST, Math.max(DEEPEST, hz));
  by("resonance").value = Math.round(state.resonance);
  by("resonance-hz").textContent = `${state.resonance.toFixed(0)} Hz`;
  send(); note();
}

/** The mouth's resonance on or off, lips that grow firmer or not: another player, another gesture. */
function plays(how) {
  Object.assign(state, how);
  by("led").checked = state.led; by("firm").checked = state.firm; by("resonance").disabled = !state.led;
  live.path = []; live.gesture = [];
  if (live.graph) live.graph.node.port.postMessage({ mouth: state.led, firm: state.firm });
}

/** Keep what the hand does: the gesture, up to a minute of it. */
function note() {
  if (!live.graph) return;
  const now = live.graph.context.currentTime, gesture = live.gesture;
  const breath = state.blowing ? state.pressure : 0;
  const last = gesture[gesture.length - 1];
  if (!last && !state.blowing) return;
  if (last && now - last[0] < 1e-3) gesture.pop();
  // a change is a step of some milliseconds, not a slope from the point before
  else if (last && now - last[0] > 0.01) gesture.push([now - 0.005, ...last.slice(1)]);
  gesture.push([now, state.tension, breath, state.resonance]);
  while (now - gesture[0][0] > LONGEST) gesture.shift();
}

function pick(number) {
  state.choice = number;
  live.path = []; live.gesture = []; live.seen = [];
  for (const group of ["tube", "valves", "slide"]) {
    const box = by(group);
    if (!box) continue;
    const mine = data.choices[number].group === group || number === 0;
    box.value = mine ? String(number) : group === "tube" ? "0" : "0";
  }
  if (live.graph) live.graph.node.port.postMessage({ tube: number });
  note();
}

function moves(motion) {
  state.motion = motion; by("motion").value = motion; live.path = []; live.gesture = [];
  if (live.graph) live.graph.node.port.postMessage({ motion });
}

function valve(number) {
  const box = by("valves");
  if (!box) return;
  const now = box.options[box.selectedIndex].text.replace("0", "");
  const wanted = [...new Set(now.includes(number) ? now.replace(number, "") : now + number)].sort().join("") || "0";
  const option = [...box.options].find((o) => o.text === wanted);
  if (option) pick(Number(option.value));
}

/** How far the pitch held while the lips moved: 1 - cents of pitch/cents of lips, over the lips'
 * last 40 cents without a jump; null before that. */
function lockNow() {
  const seen = live.seen, end = seen[seen.length - 1];
  for (let i = seen.length - 2; i >= 0; i--) {
    if (!seen[i][1] || !end[1] || Math.abs(cents(seen[i][1], seen[i + 1][1])) > 60) return null;
    const lips = cents(end[0], seen[i][0]);
    if (Math.abs(lips) >= 40) return 1 - cents(end[1], seen[i][1]) / lips;
  }
  return null;
}

const wave = new Float32Array(4096), sound = new Float32Array(4096), bins = new Float32Array(2048);

function read() {
  const graph = live.graph;
  let loud = -60;
  if (graph) {
    graph.inside.getFloatTimeDomainData(wave);
    graph.outside.getFloatTimeDomainData(sound);
    graph.outside.getFloatFrequencyData(bins);
    const rate = graph.context.sampleRate;
    live.heard = pitchOf(rate > 30000 ? wave : wave.subarray(2048), rate);
    loud = peakOf(sound);
    if (state.blowing) {
      live.path.push([state.tension, live.heard]);
      if (live.path.length > KEPT) live.path.shift();
      live.seen.push([state.tension, live.heard]);
      if (live.seen.length > 60) live.seen.shift();
      note();
    }
    drawHarmonics(choice(), live.heard, bins, rate);
  } else drawHarmonics(choice(), null);
  by("meter").value = Math.max(-60, loud);
  numbers(loud);
  drawField(choice(), state, live.heard);
  drawPath(choice(), live.path);
}

function numbers(loud) {
  const hz = live.heard, put = (name, text) => { const box = by(`read-${name}`); if (box.textContent !== text) box.textContent = text; };
  put("lips", `${state.tension.toFixed(0)} Hz`);
  put("breath", `${(state.blowing ? state.pressure / 1000 : 0).toFixed(1)} kPa`);
  put("loudness", loud > -60 ? `${loud.toFixed(0)} dB` : words.silent);
  if (!hz) { for (const name of ["note", "sounding", "cents", "lock"]) put(name, "–"); return; }
  const up = choice().up;
  put("note", noteName(hz, up));
  put("sounding", `${noteName(hz)}, ${hz.toFixed(1)} Hz`);
  const near = choice().resonances.reduce((a, b) => Math.abs(cents(hz, b.frequency_hz)) <= Math.abs(cents(hz, a.frequency_hz)) ? b : a, choice().resonances[0] || { frequency_hz: hz });
  const off = Math.round(cents(hz, near.frequency_hz));
  put("cents", off ? `${Math.abs(off)} cents ${off > 0 ? words.sharp : words.flat}` : "0 cents");
  const lock = live.seen.length ? lockNow() : null;
  put("lock", lock === null ? "–" : lock < 0 ? words.lock_below : lock > 1 ? words.lock_above : lock.toFixed(2));
}

function keep() {
  if (live.gesture.length < 2) return tell(words.nothing);
  const text = sceneOf(live.gesture, choice(), state);
  live.saved = text;
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  link.download = "gesture.toml";
  link.click();
  tell(words.saved);
}

const field = by("field");
const boxOf = () => ({ width: field.clientWidth, height: field.clientHeight });
const point = (e) => {
  const at = field.getBoundingClientRect();
  set(settingAt(boxOf(), e.clientX - at.left), breathAt(boxOf(), e.clientY - at.top));
};
// the first finger has lips and breath, a second one the mouth: up is higher, the field's height all of it
let first = null, second = null;
field.addEventListener("pointerdown", (e) => {
  field.setPointerCapture(e.pointerId);
  if (first !== null && e.pointerType !== "mouse") { second = { id: e.pointerId, y: e.clientY, hz: state.resonance }; return; }
  first = e.pointerId; point(e); blow(true);
});
field.addEventListener("pointermove", (e) => {
  if (second && e.pointerId === second.id) {
    if (state.led) lead(second.hz * (HIGHEST / DEEPEST) ** ((second.y - e.clientY) / field.clientHeight));
  } else if (state.blowing || e.pointerType === "mouse") point(e);
});
for (const end of ["pointerup", "pointercancel"]) field.addEventListener(end, (e) => {
  if (second && e.pointerId === second.id) second = null;
  else { first = null; blow(false); }
});
const TURN = 2 ** (1 / 8); // a notch of the wheel
field.addEventListener("wheel", (e) => {
  if (!state.led) return; // it moves the page
  e.preventDefault();
  const notches = e.deltaY / (e.deltaMode === WheelEvent.DOM_DELTA_PIXEL ? 100 : 3);
  lead(state.resonance * TURN ** -Math.min(3, Math.max(-3, notches)));
}, { passive: false });
by("blow").addEventListener("pointerdown", () => blow(true));
for (const end of ["pointerup", "pointerleave", "pointercancel"]) by("blow").addEventListener(end, () => state.blowing && blow(false));
by("start").addEventListener("click", begin);
by("keep").addEventListener("click", keep);
by("volume").addEventListener("input", volume);
for (const group of ["tube", "valves", "slide"]) by(group)?.addEventListener("change", (e) => pick(Number(e.target.value)));
by("motion").addEventListener("change", (e) => moves(e.target.value));
by("firm").addEventListener("change", (e) => plays({ firm: e.target.checked }));
by("led").addEventListener("change", (e) => plays({ led: e.target.checked }));
by("resonance").addEventListener("input", (e) => lead(Number(e.target.value)));

const STEP = 2 ** (10 / 1200); // 10 cents a key press
addEventListener("keydown", (e) => {
  const slides = e.target.type === "range" && e.key === " "; // who leads the mouth by it blows too
  if (e.target instanceof HTMLSelectElement || (e.target instanceof HTMLInputElement && !slides) || e.ctrlKey || e.metaKey || e.altKey) return;
  const acts = {
    ArrowRight: () => set(state.tension * STEP, state.pressure), ArrowLeft: () => set(state.tension / STEP, state.pressure),
    ArrowUp: () => set(state.tension, state.pressure + 250), ArrowDown: () => set(state.tension, state.pressure - 250),
    1: () => e.repeat || valve("1"), 2: () => e.repeat || valve("2"), 3: () => e.repeat || valve("3"),
    t: () => tubeAfter(), m: () => moves(Object.keys(data.lips)[(Object.keys(data.lips).indexOf(state.motion) + 1) % 3]),
    a: () => state.led && lead(state.resonance / STEP ** 3), s: () => state.led && lead(state.resonance * STEP ** 3),
    Escape: () => stop(""),
  };
  if (e.key === " " && !(e.target instanceof HTMLButtonElement && e.target.id !== "blow")) {
    e.preventDefault();
    if (!e.repeat) blow(true);
  } else if (acts[e.key]) { e.preventDefault(); acts[e.key](); }
});
addEventListener("keyup", (e) => { if (e.key === " " && state.blowing) blow(false); });

function tubeAfter() {
  const tubes = data.choices.map((c, i) => [c.group, i]).filter(([g]) => g === "tube").map(([, i]) => i);
  pick(tubes[(tubes.indexOf(state.choice) + 1) % tubes.length]);
}

document.addEventListener("visibilitychange", () => { if (document.hidden) stop(words.hidden); });
addEventListener("blur", () => { first = second = null; if (state.blowing) blow(false); });
if (other) other.onmessage = () => stop(words.twice);
plays({}); lead(state.resonance);
setInterval(read, EVERY);
read();
document.body.setAttribute("data-ready", "");
