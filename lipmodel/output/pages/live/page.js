// The live horn: what is read of it, many times a second.

const calm = matchMedia("(prefers-reduced-motion: reduce)");
const SELDOM = 200; // ms between two pictures, for who wants little motion
const wave = new Float32Array(4096), sound = new Float32Array(4096), bins = new Float32Array(2048);
const frames = { count: 0, since: 0, last: 0, spent: 0 }; // of the page's own timer

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

function read() {
  const { graph } = live;
  let loud = -60;
  if (graph) {
    graph.inside.getFloatTimeDomainData(wave);
    graph.outside.getFloatTimeDomainData(sound);
    const rate = graph.context.sampleRate, lips = keptAt("tension", graph.context.currentTime) ?? state.tension;
    live.heard = pitchOf(rate > 30000 ? wave : wave.subarray(2048), rate);
    loud = peakOf(sound);
    if (state.blowing) {
      tread(state.tube, lips, live.heard);
      live.seen.push([lips, live.heard]);
      if (live.seen.length > 60) live.seen.shift();
    }
    if (!by("more").hidden) { graph.outside.getFloatFrequencyData(bins); drawHarmonics(choice(), live.heard, bins, rate); }
  } else drawHarmonics(choice(), null);
  by("meter").value = Math.max(-60, loud);
  numbers(loud);
  drawField(choice(), state, live.heard);
  drawStairs(choice());
  drawTuner(live.heard);
}

function numbers(loud) {
  const hz = live.heard, put = (name, text) => { const box = by(`read-${name}`); if (box.textContent !== text) box.textContent = text; };
  const up = choice().up;
  put("note", hz ? noteName(hz, up) : "–");
  if (by("more").hidden) return;
  put("lips", `${state.tension.toFixed(0)} Hz`);
  put("breath", `${(state.blowing ? state.pressure / 1000 : 0).toFixed(1)} kPa`);
  put("loudness", loud > -60 ? `${loud.toFixed(0)} dB` : words.silent);
  if (!hz) { for (const name of ["sounding", "cents", "lock"]) put(name, "–"); return; }
  put("sounding", `${noteName(hz)}, ${hz.toFixed(1)} Hz`);
  const near = choice().resonances.reduce((a, b) => Math.abs(cents(hz, b.frequency_hz)) <= Math.abs(cents(hz, a.frequency_hz)) ? b : a, choice().resonances[0] || { frequency_hz: hz });
  const off = Math.round(cents(hz, near.frequency_hz));
  put("cents", off ? `${Math.abs(off)} cents ${off > 0 ? words.sharp : words.flat}` : "0 cents");
  const lock = live.seen.length ? lockNow() : null;
  put("lock", lock === null ? "–" : lock < 0 ? words.lock_below : lock > 1 ? words.lock_above : lock.toFixed(2));
}

function tick(now) {
  if (!calm.matches || now - frames.last >= SELDOM) {
    const began = performance.now();
    read();
    frames.count += 1; frames.last = now; frames.spent += performance.now() - began;
  }
  requestAnimationFrame(tick);
}

plays({}); lead(state.resonance); showHands(); home();
prepare();
requestAnimationFrame(tick);
read();
document.body.setAttribute("data-ready", "");
