"use strict";
// The time loop of kernels/time_loop.py once more, for a browser: the same arrays, the same order of
// operations, the same numbers.  Equations are in lips.py, mouth.py and ladder.py.  Nothing is allocated
// after a horn is made.

/** Plain numbers of a data object as typed arrays. */
const floats = (list) => Float64Array.from(list);

/** A horn at rest.  `d`: one entry of the page's bores (live.py); `lips`: the player's; `mouth`:
 * the air upstream of them, or null: lungs blow the lips directly. */
function makeHorn(d, lips, mouth = null) {
  const n = d.admittance.length, padded = d.scattering.length, room = 4096;
  const horn = {
    n, padded, room, turn: d.turn, rate: d.rate, dt: 1 / d.rate, rho: d.density, motion: lips.motion,
    c: floats(lips.constants), law: lips.law, firm: lips.firm,
    // the mouth: what its cavity and channel store, its law at a resonance (mouth.py), and that in Hz
    mouth, tract: new Float64Array(2), up: new Float64Array(9), resonance: NaN,
    zc: 1 / d.admittance[0], y0: d.admittance[0],
    k: floats(d.scattering), w: floats(d.weight), q: floats(d.coefficient),
    eb: floats(d.end_b), ea: floats(d.end_a), em: new Float64Array(4),
    cells: Int32Array.from(d.line_cell), tap: floats(d.tap), poles: floats(d.poles),
    size: d.buffer_size, buffer: new Float64Array(2 * d.line_cell.length * d.buffer_size),
    lm: new Float64Array(10 * d.line_cell.length), lo: new Float64Array(4 * d.line_cell.length),
    // valves on their way: the tap that they go to, its memory, samples of the way and gone, the
    // part of it that rests at either end, and of each line how far it spreads a wave (0: it stays)
    to: floats(d.tap), lt: new Float64Array(4 * d.line_cell.length), travel: 0, moved: 0, still: 0,
    spread: new Float64Array(d.line_cell.length), next: null, after: 0,
    throat: d.throat, tl: floats(d.throat_law),
    right: new Float64Array(padded + room + 1), left: new Float64Array(padded + room + 1),
    memory: new Float64Array(padded), r: room, l: 0, at: 0,
    lip: new Float64Array(8), yn: d.admittance[n - 1],
    fir: floats(d.response), past: new Float64Array(d.response.length), pastAt: 0,
    pressure: 0, flow: 0, leaving: 0, turned: 0, broken: false,
  };
  rest(horn);
  return horn;
}

/** Lips where spring and contact balance, air still. */
function rest(h) {
  const [x, start, contact, eps] = [h.c[3], h.c[4], h.c[8], h.c[9]];
  let y = start;
  for (let i = 0; i < 60; i++) {
    const root = Math.hypot(y, eps);
    y -= (y - start - contact * 0.5 * (root - y)) / (1 + contact * 0.5 * (1 - y / root));
  }
  for (const a of [h.right, h.left, h.memory, h.em, h.buffer, h.lm, h.lo, h.lt, h.past, h.lip, h.tract]) a.fill(0);
  setTap(h, h.next ? h.next : h.travel ? h.to : h.tap);
  h.lip[0] = x; h.lip[1] = y;
  h.r = h.room; h.l = 0; h.at = 0; h.pastAt = 0; h.broken = false; h.pressure = 0;
}

/** 1/Q at a tension, by the player's law. */
const quality = (law, f) => 1 / (law.quality * (law.swing ? 1 : Math.pow(share(law, f), law.quality_exponent)));
const share = (law, f) => Math.min(Math.max(f, law.reference), law.highest) / law.reference;

/** What stiffness, mass and damping are multiplied by at a breath in Pa, by the player's law. */
function firmness(h, breath, f) {
  if (!h.firm) return 1.0;
  const law = h.law, knee = law.knee * Math.pow(Math.max(law.middle / f, 1.0), law.knee_exponent);
  const over = Math.max(breath, 0.0) / (law.threshold_per_hz * f) / knee;
  return Math.pow(1 + Math.pow(over, law.firm_sharpness), law.firm_exponent / law.firm_sharpness);
}

/** The law of the air in the mouth at a resonance in Hz: `Mouth.law` of mouth.py. */
function mouthAt(h, hz) {
  if (hz === h.resonance) return;
  const m = h.mouth, up = h.up, half = Math.tan((Math.PI / h.rate) * hz);
  const z0 = m.compliance !== null ? 1 / (2 * Math.PI * hz * m.compliance)
    : m.quality !== null ? m.peak / m.quality : Math.sqrt(m.peak * m.glottis);
  const r = m.glottis === null ? z0 / m.quality : m.glottis;
  const onward = r * half + z0, stored = z0 * half, share = 1 / (onward + stored * half);
  const root = Math.sqrt(stored);
  up[0] = stored * onward * share;
  up[1] = h.zc + up[0];
  up[2] = 1 / up[1];
  up[3] = root * onward * share;
  up[4] = stored * half * share;
  up[7] = 2 / root;
  up[5] = (0.5 * z0) * up[7];
  up[6] = half / onward;
  up[8] = r;
  h.resonance = hz;
}

/** Flow, pressure and the next place of the lips; fills h.pressure and h.flow.  `lungs`: Pa. */
function moveLips(h, tension, damping, firm, lungs, back) {
  const c = h.c, lip = h.lip, dt = h.dt, x = lip[0], y = lip[1], led = h.mouth !== null;
  const up = h.up, tract = h.tract, zc = led ? up[1] : h.zc, y0 = led ? up[2] : h.y0;
  let mouth = led ? up[3] * tract[0] + up[4] * (lungs + up[5] * tract[1]) : lungs;
  const vx = 1.5 * lip[4] - 0.5 * lip[6], vy = 1.5 * lip[5] - 0.5 * lip[7];
  const root = Math.sqrt(y * y + c[9] * c[9]), gap = 0.5 * (y + root), open = gap / root;
  const swing = h.motion === 1, both = h.motion === 0, count = swing ? 1.0 : 2.0;
  const swept = both ? 2.0 * c[0] * ((c[2] - y) * vx + (x - c[1]) * vy) : 0.0;
  const wide = count * c[0] * gap, narrowing = 1.0 + gap * c[10], spread = wide * c[5];
  const inverse = 1.0 / (narrowing * narrowing - 2.0 * spread * (narrowing - spread));
  const a2 = zc * zc * wide * wide * inverse * (2.0 / h.rho);
  const recovery = narrowing * narrowing * inverse;
  const still = back + zc * swept, drop = mouth - still, a = Math.sqrt(a2), size = Math.abs(drop);
  const speed = 2.0 * size / (a + Math.sqrt(a2 + 4.0 * size));
  const across = drop > 0.0 ? speed * speed : -speed * speed;
  let pressure = mouth - across;
  const jet = drop > 0.0 ? a * speed * y0 : -a * speed * y0;
  let channel = (drop > 0.0 ? mouth : pressure) - speed * speed * recovery;
  if (led) {
    const fall = up[0] * (jet + swept);
    mouth -= fall; pressure -= fall; channel -= fall;
    const fed = up[6] * (lungs - mouth + up[5] * tract[1]);
    tract[0] = up[7] * mouth - tract[0];
    tract[1] = 2.0 * up[5] * fed - tract[1];
  }
  let resistance = (open * damping + (1.0 - open) * c[7]) * firm, mass, fx = 0.0, fy;
  if (swing) {
    mass = c[13] * firm;
    const omega = 6.283185307179586 * tension;
    resistance *= mass * omega;
    fy = across - mass * omega * omega * (y - c[4] - c[8] * (gap - y));
  } else {
    mass = firm * c[6] / (78.95683520871486 * tension);
    resistance *= c[6] / 12.566370614359172;
    const stiffness = 0.5 * c[6] * tension * firm, dx = x - c[3], dy = y - c[4];
    const far = (dx * dx + dy * dy) * c[12], harder = 1.0 + far * far;
    const lifted = y > 0.0 ? y * c[11] : 0.0;
    fy = stiffness * (c[8] * (gap - y) - dy * (harder + lifted * lifted));
    fy += c[0] * c[14] * channel * open;
    if (both) {
      fx = c[0] * across * (c[2] - y) - stiffness * dx * harder;
      fy += c[0] * across * (x - c[1]);
    }
  }
  const half = 0.5 * dt * resistance, part = 1.0 / (mass + half);
  const nx = (lip[2] + dt * fx - half * lip[4]) * part, ny = (lip[3] + dt * fy - half * lip[5]) * part;
  lip[6] = lip[4]; lip[7] = lip[5]; lip[4] = nx; lip[5] = ny;
  lip[2] = mass * nx; lip[3] = mass * ny;
  lip[0] = x + dt * nx; lip[1] = y + dt * ny;
  h.pressure = pressure; h.flow = jet + swept;
}

/** The open end, junctions, shelves. */
function stepCells(h) {
  const { right, left, memory, k, w, q, eb, ea, em, turn, padded, r } = h, l = h.l + 1;
  const leaving = right[r + h.n - 1], turned = eb[0] * leaving + em[0];
  em[0] = eb[1] * leaving - ea[1] * turned + em[1];
  em[1] = eb[2] * leaving - ea[2] * turned + em[2];
  em[2] = eb[3] * leaving - ea[3] * turned + em[3];
  em[3] = eb[4] * leaving - ea[4] * turned;
  for (let i = 0; i < turn; i++) {
    const step = k[i] * (right[r + i] - left[l + i]), wave = right[r + i] + step, high = wave - memory[i];
    memory[i] += q[i] * high;
    right[r + i] = wave - w[i] * high;
    left[l + i] += step;
  }
  for (let i = turn; i < padded; i++) {
    const step = k[i] * (right[r + i] - left[l + i]), wave = left[l + i] + step, high = wave - memory[i];
    memory[i] += q[i] * high;
    left[l + i] = wave - w[i] * high;
    right[r + i] += step;
  }
  h.leaving = leaving; h.turned = turned;
}

/** The flow that the loss behind the throat takes away. */
function throat(h) {
  const i = h.throat, law = h.tl, a = h.right[h.r + i], b = h.left[h.l + 1 + i];
  const drop = 2.0 * (a - b), both = law[0] + law[1], kappa = drop > 0.0 ? law[2] : law[3];
  const size = 2.0 * Math.abs(drop) / (both + Math.sqrt(both * both + 4.0 * kappa * Math.abs(drop)));
  return drop * law[4] - (drop > 0.0 ? size : -size);
}

/** One way through line m: a delay of whole samples, a Thiran allpass, five shelves. */
function line(h, m, way, mask) {
  const base = (2 * m + way) * h.size, old = 4 * m + 2 * way, mem = 10 * m + 5 * way, t = 7 * m, tap = h.tap;
  const x = h.buffer[base + ((h.at + 1 - tap[t]) & mask)];
  const y = tap[t + 1] * (x - h.lo[old + 1]) + h.lo[old];
  h.lo[old] = x; h.lo[old + 1] = y;
  let lost = 0.0;
  for (let j = 0; j < 5; j++) {
    const high = y - h.lm[mem + j];
    h.lm[mem + j] += h.poles[j] * high;
    lost += tap[t + 2 + j] * high;
  }
  return y - lost;
}

// Valves on their way, as waveguide/fades.py has them: two taps of a line read at once.
const MOST_REST = 0.3, PRIMING = 48;
const delayOf = (tap, m) => tap[7 * m] + (1 - tap[7 * m + 1]) / (1 + tap[7 * m + 1]);

/** Lines of other lengths, at once: for a horn at rest. */
function setTap(h, tap) {
  if (h.tap !== tap) h.tap.set(tap);
  h.travel = 0; h.next = null;
}

/** Let the lines fade to `tap` in `travel` samples, or after what is on its way. */
function moveTo(h, tap, travel) {
  if (h.travel > 0) { h.next = tap; h.after = travel; return; }
  let most = 0;
  h.to.set(tap);
  for (let m = 0; m < h.cells.length; m++) {
    const change = delayOf(tap, m) - delayOf(h.tap, m), spread = Math.max(change, 0) + 1.5;
    h.spread[m] = change === 0 ? 0 : spread;
    most = Math.max(most, spread);
    prime(h, m, 0, change === 0);
    prime(h, m, 1, change === 0);
  }
  h.still = Math.min(most / travel, MOST_REST);
  h.travel = travel; h.moved = 0;
}

/** The memory of a tap that begins to be read, as if it had been read for a while. */
function prime(h, m, way, same) {
  const old = 4 * m + 2 * way, whole = h.to[7 * m], a = h.to[7 * m + 1];
  if (same) { h.lt[old] = h.lo[old]; h.lt[old + 1] = h.lo[old + 1]; return; }
  const count = Math.max(0, Math.min(PRIMING, h.size - whole - 2)), base = (2 * m + way) * h.size;
  const mask = h.size - 1, last = h.at + 1 - whole;
  let x = h.buffer[base + ((last - count) & mask)], y = x;
  for (let age = count - 1; age >= 0; age--) {
    const now = h.buffer[base + ((last - age) & mask)];
    y = a * (now - y) + x;
    x = now;
  }
  h.lt[old] = x; h.lt[old + 1] = y;
}

/** One way through line m while it fades. */
function fadingLine(h, m, way, mask, mix, scale) {
  const base = (2 * m + way) * h.size, old = 4 * m + 2 * way, mem = 10 * m + 5 * way, t = 7 * m;
  const tap = h.tap, to = h.to, a = h.buffer[base + ((h.at + 1 - tap[t]) & mask)];
  const b = h.buffer[base + ((h.at + 1 - to[t]) & mask)];
  const one = tap[t + 1] * (a - h.lo[old + 1]) + h.lo[old], other = to[t + 1] * (b - h.lt[old + 1]) + h.lt[old];
  h.lo[old] = a; h.lo[old + 1] = one; h.lt[old] = b; h.lt[old + 1] = other;
  const y = scale * ((1.0 - mix) * one + mix * other);
  let lost = 0.0;
  for (let j = 0; j < 5; j++) {
    const high = y - h.lm[mem + j];
    h.lm[mem + j] += h.poles[j] * high;
    lost += (tap[t + 2 + j] + mix * (to[t + 2 + j] - tap[t + 2 + j])) * high;
  }
  return y - lost;
}

/** All lines while they fade; ends the fade. */
function fadingLines(h, mask) {
  const inner = 1 - 2 * h.still, way = (h.moved / h.travel - h.still) / inner;
  const clip = (x) => Math.min(Math.max(x, 0), 1), mix = 0.5 - 0.5 * Math.cos(Math.PI * clip(way));
  for (let m = 0; m < h.cells.length; m++) {
    const spread = h.spread[m], near = spread / (h.travel * inner);
    const steepest = clip(Math.min(Math.max(0.5, way - near), way + near));
    const slope = 0.5 * Math.PI / (h.travel * inner) * Math.sin(Math.PI * steepest);
    const scale = 1 / Math.sqrt(1 + spread * slope), cell = h.cells[m], base = 2 * m * h.size;
    h.buffer[base + h.at] = h.right[h.r + cell];
    h.buffer[base + h.size + h.at] = h.left[h.l + cell];
    h.right[h.r + cell] = fadingLine(h, m, 0, mask, mix, scale);
    h.left[h.l + cell] = fadingLine(h, m, 1, mask, mix, scale);
  }
  if (++h.moved < h.travel) return;
  const next = h.next;
  h.lo.set(h.lt);
  setTap(h, h.to);
  if (next) moveTo(h, next, h.after);
}

/** One sample; returns false when the pressure has left the model's range.  With a mouth `mouthAt`
 * comes before. */
function oneSample(h, mouth, tension, damping, firm) {
  const arriving = h.left[h.l];
  const less = h.throat >= 0 ? throat(h) : 0.0;
  moveLips(h, tension, damping, firm, mouth, 2.0 * arriving);
  if (!(Math.abs(h.pressure) < 300e3)) { h.broken = true; return false; }
  stepCells(h);
  if (h.throat >= 0) {
    h.right[h.r + h.throat] -= h.tl[1] * less;
    h.left[h.l + 1 + h.throat] += h.tl[0] * less;
  }
  if (h.r === 0) {
    h.right.copyWithin(h.room, 0, h.padded);
    h.left.copyWithin(0, h.room, h.room + h.padded + 1);
    h.r = h.room; h.l = 0;
  }
  h.r -= 1; h.l += 1;
  h.right[h.r] = h.pressure - arriving;
  h.left[h.l + h.n - 1] = h.turned;
  const mask = h.size - 1;
  h.at = (h.at + 1) & mask;
  if (h.travel > 0) { fadingLines(h, mask); return true; }
  for (let m = 0; m < h.cells.length; m++) {
    const cell = h.cells[m], base = 2 * m * h.size;
    h.buffer[base + h.at] = h.right[h.r + cell];
    h.buffer[base + h.size + h.at] = h.left[h.l + cell];
    h.right[h.r + cell] = line(h, m, 0, mask);
    h.left[h.l + cell] = line(h, m, 1, mask);
  }
  return true;
}

/** What a listener hears of the last sample, Pa: flow through the open end, radiated. */
function heard(h) {
  const fir = h.fir, past = h.past, size = fir.length;
  h.pastAt = h.pastAt === 0 ? size - 1 : h.pastAt - 1;
  past[h.pastAt] = (h.leaving - h.turned) * h.yn;
  let sum = 0.0, i = 0;
  for (let j = h.pastAt; j < size; j++) sum += fir[i++] * past[j];
  for (let j = 0; j < h.pastAt; j++) sum += fir[i++] * past[j];
  return sum;
}

/** Play arrays of mouth pressure (Pa) and tension (Hz) from rest; fills `out` with the mouthpiece
 * pressure and `sound`, where given, with what is heard; `moves`: [sample, tap, travel] of valves;
 * `resonance`: of the mouth, Hz.  For tests and for offline runs. */
function playThrough(h, mouth, tension, out, sound, moves = [], resonance = null) {
  let last = NaN, damping = 0, done = 0;
  for (let t = 0; t < mouth.length; t++) {
    while (done < moves.length && moves[done][0] === t) moveTo(h, moves[done][1], moves[done++][2]);
    if (tension[t] !== last) {
      last = tension[t]; damping = quality(h.law, last);
    }
    if (resonance) mouthAt(h, resonance[t]);
    if (!oneSample(h, mouth[t], last, damping, firmness(h, mouth[t], last))) return t;
    out[t] = h.pressure;
    if (sound) sound[t] = heard(h);
  }
  return mouth.length;
}
