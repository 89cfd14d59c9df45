// The gesture, kept from its beginning: as a scene that renders to the same sound, or as a sound.

const LONGEST = 120, PAUSE = 3; // s of a gesture; s of rest before another
const MOST = 10000, NEAR = 2e-4, AHEAD = 60; // points of a scene; of a value; points looked over
const latest = { tension: [], pressure: [], resonance: [] }; // what each control was last driven through
const gesture = { tension: [], pressure: [], resonance: [], fingers: [], began: null, rested: null, full: false };
window.gesture = gesture;
const CONTROLS = ["tension", "pressure", "resonance"];

function forget() {
  Object.assign(gesture, { tension: [], pressure: [], resonance: [], fingers: [], began: null, rested: null, full: false });
}

/** The value of a control at a moment, between the points that it was driven through. */
function valueAt(points, t) {
  let after = points.length; // looked for from the end: it is mostly there
  while (after > 0 && points[after - 1][0] >= t) after -= 1;
  if (after === points.length) return after ? points[after - 1][1] : null;
  if (after === 0) return points[0][1];
  const [t0, a] = points[after - 1], [t1, b] = points[after];
  return a + (b - a) * (t - t0) / (t1 - t0);
}
const keptAt = (name, t) => valueAt(latest[name], t);

function beginGesture() {
  const now = live.graph.context.currentTime;
  if (gesture.began !== null && (gesture.rested === null || now - gesture.rested < PAUSE)) return;
  forget();
  for (const name of CONTROLS) { // with what is still on its way
    const value = keptAt(name, now) ?? (name === "pressure" ? 0 : state[name]);
    gesture[name] = [[now, value], ...latest[name].filter(([t]) => t > now)];
  }
  gesture.began = now;
  keepFingers();
}

function keepPoints(name, now, from, points) {
  const list = gesture[name];
  latest[name] = [[now, from], ...points.map(([after, v]) => [now + after, v])];
  if (gesture.began === null || gesture.full) return;
  if (now - gesture.began > LONGEST) { gesture.full = true; gesture.ended = now; return; }
  while (list.length && list[list.length - 1][0] >= now - 1e-4) list.pop();
  list.push(...latest[name]);
  if (name === "pressure") gesture.rested = points[points.length - 1][1] > 0 ? null : now;
}

function keepFingers() {
  if (gesture.began === null || gesture.full) return;
  const now = live.graph.context.currentTime, { fingers } = gesture;
  if (fingers.length && now - fingers[fingers.length - 1][0] < 1e-3) fingers.pop();
  fingers.push([now, state.valves, state.position]);
}

/** The kept gesture in s from its beginning, or null; ends with the last breath. */
function kept() {
  if (gesture.began === null) return null;
  const end = gesture.full ? gesture.ended : gesture.rested ?? live.graph?.context.currentTime ?? gesture.pressure[gesture.pressure.length - 1][0];
  const from = ([t, ...rest]) => [t - gesture.began, ...rest];
  const found = { length: end - gesture.began + 0.3, fingers: gesture.fingers.map(from) };
  for (const name of CONTROLS) found[name] = gesture[name].map(from).filter(([t]) => t >= 0 && t <= found.length);
  found.pressure = found.pressure.filter(([t]) => t < end - gesture.began);
  const last = found.pressure[found.pressure.length - 1];
  if (last) found.pressure.push([Math.max(end - gesture.began, last[0] + 1e-3), last[1]], [Math.max(end - gesture.began, last[0] + 1e-3) + 0.005, 0]);
  return found;
}

/** The points that a line through needs: the others lie on it, to `near` of their value. */
function thinned(list, near = NEAR) {
  const found = list.slice(0, 1);
  for (let from = 0, to = 1; to < list.length; to++) {
    const [t0, a] = list[from], [t1, b] = list[to + 1] || [0, 0], between = list.slice(from + 1, to + 1);
    const lies = ([t, v]) => Math.abs(a + (b - a) * (t - t0) / (t1 - t0) - v) <= near * Math.abs(v);
    if (to + 1 < list.length && to - from < AHEAD && t1 > t0 && between.every(lies)) continue;
    found.push(list[to]); from = to;
  }
  return found.length > MOST ? thinned(list, 2 * near) : found;
}

/** [[s, value], ...] as TOML, times rising by a tenth of a millisecond at least. */
function points(given, digits, scale = 1) {
  const rows = [], list = thinned(given);
  let before = -1;
  for (const [t, v] of list) {
    if (t - before < 1e-4) rows.pop();
    else before = t;
    rows.push(`[${Math.max(before, 0).toFixed(4)}, ${(v * scale).toFixed(digits)}]`);
  }
  return rows.length === 1 ? `[${rows[0]}]` : `[${rows.join(", ")}]`;
}

/** A gesture as a scene file for the tube that was played, as `state` says. */
function sceneOf(found) {
  const { air, notes, lips, sound, mouth } = data.tables, moved = found.fingers;
  let tube = tubeHas().toml;
  if (state.tube === 0) {
    const first = moved[0] || [0, state.valves, state.position];
    tube = HELD.toml + (SLIDES ? `slide_position = ${moved.length > 1 ? slideLine(moved) : first[2]}\n` : `valves = "${first[1]}"\n`);
    const moves = moved.slice(1).filter(([, v], i) => v !== moved[i][1]);
    if (!SLIDES && moves.length) tube += `valve_moves = [${moves.map(([t, v]) => `[${t.toFixed(4)}, "${v}"]`).join(", ")}]\n`;
  }
  return `# Played by hand on the live page.\ntitle = "A gesture played by hand"\n\n[air]\n${air}\n[notes]\n${notes}\n` +
    `${tube}\n[player]\npressure_kpa = ${points(found.pressure, 4, 1e-3)}\ntension_hz = ${points(found.tension, 2)}\n\n` +
    `[lips]\nmotion = "${state.motion}"\nfirmness = ${state.firm}\n${lips}\n` +
    (state.led ? `[mouth]\nresonance_hz = ${points(found.resonance, 2)}\n${mouth}\n` : "") +
    `[sound]\nlength_s = ${Math.max(0.2, found.length).toFixed(3)}\nrate_hz = ${data.rates[state.which]}\nsteepening = false\n${sound}`;
}

/** Places of the slide, each reached in the time of one short fade. */
function slideLine(moved) {
  const list = [[0, moved[0][2]]];
  for (let i = 1; i < moved.length; i++) {
    if (moved[i][0] - list[list.length - 1][0] > SLIDE_S) list.push([moved[i][0], moved[i - 1][2]]);
    list.push([Math.max(moved[i][0], list[list.length - 1][0]) + SLIDE_S, moved[i][2]]);
  }
  return points(list, 3);
}

/** The gesture played once more, faster than it lasts: samples of the whole sound. */
async function soundOf(found) {
  const rate = data.rates[state.which], context = new OfflineAudioContext(1, Math.ceil((found.length + 0.2) * rate), rate);
  const score = [[0, { tube: found.tube, motion: state.motion, mouth: state.led, firm: state.firm }]];
  for (const [t, valves, position] of found.fingers) {
    if (state.tube !== 0) break;
    if (SLIDES) score.push([t, { tap: slideTap(position), travel_s: SLIDE_S }]);
    else score.push([t, { tube: withValves(valves) }]);
  }
  const graph = await makeGraph(context, state.which, score);
  graph.volume.gain.value = 1;
  for (const name of CONTROLS) {
    found[name].forEach(([t, v], i) => (i ? graph[name].linearRampToValueAtTime(v, Math.max(t, 0)) : graph[name].setValueAtTime(v, 0)));
  }
  return (await context.startRendering()).getChannelData(0);
}

function withValves(valves) {
  if (valves === HELD.valves) return 0;
  return data.choices.findIndex((c) => c.group === "valves" && c.label === valves);
}

/** A WAV file (RIFF, PCM, 16 bits, one channel) of samples from -1 to 1. */
function wavOf(samples, rate) {
  const view = new DataView(new ArrayBuffer(44 + 2 * samples.length));
  const text = (at, letters) => [...letters].forEach((c, i) => view.setUint8(at + i, c.charCodeAt(0)));
  text(0, "RIFF"); view.setUint32(4, 36 + 2 * samples.length, true); text(8, "WAVEfmt ");
  view.setUint32(16, 16, true); view.setUint16(20, 1, true); view.setUint16(22, 1, true);
  view.setUint32(24, rate, true); view.setUint32(28, 2 * rate, true); view.setUint16(32, 2, true); view.setUint16(34, 16, true);
  text(36, "data"); view.setUint32(40, 2 * samples.length, true);
  for (let i = 0; i < samples.length; i++) view.setInt16(44 + 2 * i, Math.round(32767 * Math.max(-1, Math.min(1, samples[i]))), true);
  return view.buffer;
}

function handOver(content, type, name, said) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([content], { type }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  tell(gesture.full ? `${said} ${words.long}` : said);
}

function keep() {
  const found = kept();
  if (!found) return tell(words.nothing);
  live.saved = sceneOf(found);
  handOver(live.saved, "text/plain", "gesture.toml", words.saved);
}

async function keepSound() {
  const found = kept();
  if (!found) return tell(words.nothing);
  found.tube = state.tube;
  handOver(wavOf(await soundOf(found), data.rates[state.which]), "audio/wav", "gesture.wav", words.saved_wav);
}
