// Pictures of the live horn, drawn on canvases: the field, the harmonics.

/** A colour of the page, by its name. */
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const [INK, SOUND, LIPS, GREY, PAPER, BAND, FAINT] = ["ink", "sound", "lips", "air-column", "paper", "band", "faint"].map(colour);
const [LOW, HIGH] = data.field.tension_hz, TOP = data.field.pressure_pa;

/** A sharp canvas of the size that the page gives it now; {pen, width, height}. */
function canvasOf(id) {
  const canvas = typeof id === "string" ? document.getElementById(id) : id, more = Math.max(1, devicePixelRatio || 1);
  const width = canvas.clientWidth || canvas.wide, height = canvas.clientHeight || canvas.tall;
  if (canvas.width !== Math.round(width * more) || canvas.height !== Math.round(height * more)) {
    canvas.width = Math.round(width * more); canvas.height = Math.round(height * more);
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(more, 0, 0, more, 0, 0);
  pen.fillStyle = PAPER; pen.fillRect(0, 0, width, height);
  pen.font = `${width < 520 ? 13 : 17}px system-ui, sans-serif`;
  return { pen, width, height, more };
}

/** What axes and marks need around a picture; little where there is little room. */
const LARGE = { left: 46, right: 20, top: 44, bottom: 42 }, SMALL = { left: 36, right: 16, top: 30, bottom: 22 };
const edgeOf = (box) => (box.height < 200 ? SMALL : LARGE);
const inside = (box) => { const e = edgeOf(box); return { x: e.left, wide: box.width - e.left - e.right, low: box.height - e.bottom, tall: box.height - e.top - e.bottom }; };
const across = (box, hz) => { const { x, wide } = inside(box); return x + wide * Math.log(hz / LOW) / Math.log(HIGH / LOW); };
const upwards = (box, pa) => { const { low, tall } = inside(box); return low - tall * pa / TOP; };
const clip = (share) => Math.min(1, Math.max(0, share));
const settingAt = (box, x) => LOW * (HIGH / LOW) ** clip((x - inside(box).x) / inside(box).wide);
const breathAt = (box, y) => TOP * clip((inside(box).low - y) / inside(box).tall);

function words_at(pen, text, x, y, colour, align = "left") {
  pen.fillStyle = colour; pen.textAlign = align; pen.fillText(text, x, y);
}

function lineOf(pen, points, colour, width, dashes = []) {
  pen.strokeStyle = colour; pen.lineWidth = width; pen.setLineDash(dashes);
  pen.beginPath();
  points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.stroke(); pen.setLineDash([]);
}

function axis(pen, box, label, y) {
  const EDGE = edgeOf(box);
  let last = -100;
  for (const hz of [50, 70, 100, 150, 200, 300, 400, 500, 700, 1000]) {
    const x = across(box, hz);
    if (hz < LOW || hz > HIGH || x - last < 36) continue;
    last = x;
    lineOf(pen, [[x, box.height - EDGE.bottom], [x, box.height - EDGE.bottom + 5]], INK, 1);
    words_at(pen, String(hz), x, box.height - EDGE.bottom + 20, INK, "center");
  }
  if (EDGE === LARGE) words_at(pen, label, EDGE.left, box.height - 5, INK);
  words_at(pen, y, 4, EDGE.top - (EDGE === LARGE ? 28 : 16), INK);
}

/** What of the field stands still: slots, resonances, axes; drawn once for a tube and a size. */
const ground = { canvas: document.createElement("canvas"), of: null };
function groundOf(choice, width, height, more) {
  const { canvas } = ground, key = `${data.choices.indexOf(choice)} ${width} ${height} ${more}`;
  if (ground.of === key) return canvas;
  ground.of = key; canvas.wide = width; canvas.tall = height;
  const box = canvasOf(canvas), { pen } = box, EDGE = edgeOf(box), thick = (height - EDGE.top - EDGE.bottom) / 4.2;
  for (const slot of choice.slots) {
    const y = upwards(box, slot.pressure_pa);
    pen.fillStyle = BAND;
    const x = across(box, Math.max(slot.from_hz, LOW)), end = across(box, Math.min(slot.to_hz, HIGH));
    pen.fillRect(x, y - thick / 2, Math.max(end - x, 1), thick);
  }
  let last = -100;
  for (const one of choice.resonances) {
    if (one.frequency_hz < LOW || one.frequency_hz > HIGH) continue;
    const x = across(box, one.frequency_hz);
    lineOf(pen, [[x, EDGE.top], [x, height - EDGE.bottom]], GREY, 1.5, [2, 4]);
    if (x - last > (width < 520 ? 46 : 62)) { words_at(pen, `${one.n} ${one.written}`, x, EDGE.top - 6, GREY, "center"); last = x; }
  }
  for (let kpa = 0; kpa <= TOP / 1000; kpa += 5) {
    words_at(pen, String(kpa), EDGE.left - 8, upwards(box, kpa * 1000) + 5, INK, "right");
    lineOf(pen, [[EDGE.left, upwards(box, kpa * 1000)], [width - EDGE.right, upwards(box, kpa * 1000)]], FAINT, 1);
  }
  axis(pen, box, words.lips_axis, words.breath_axis);
  return canvas;
}

/** The playing field: where the hand is, the marks of lips, note and mouth. */
function drawField(choice, state, heardHz) {
  const box = canvasOf("field"), { pen, width, height } = box, EDGE = edgeOf(box);
  pen.drawImage(groundOf(choice, width, height, box.more), 0, 0, width, height);
  const x = across(box, state.tension), y = upwards(box, state.pressure);
  pen.fillStyle = LIPS;
  pen.beginPath(); pen.moveTo(x, EDGE.top + 16); pen.lineTo(x - 9, EDGE.top); pen.lineTo(x + 9, EDGE.top); pen.fill();
  words_at(pen, words.lips, x + 12, EDGE.top + 14, LIPS);
  if (heardHz && heardHz >= LOW && heardHz <= HIGH) {
    const at = across(box, heardHz);
    lineOf(pen, [[at, EDGE.top + 24], [at, box.height - EDGE.bottom]], SOUND, 3);
    pen.fillStyle = SOUND; pen.beginPath(); pen.arc(at, EDGE.top + 32, 9, 0, 7); pen.fill();
    words_at(pen, noteName(heardHz, choice.up), at + 13, EDGE.top + 38, SOUND);
  }
  if (state.led && state.resonance >= LOW && state.resonance <= HIGH) {
    const at = across(box, state.resonance), low = box.height - EDGE.bottom;
    pen.fillStyle = INK;
    pen.beginPath(); pen.moveTo(at, low - 16); pen.lineTo(at - 9, low); pen.lineTo(at + 9, low); pen.fill();
    const turned = at > box.width - 90;
    words_at(pen, words.mouth_mark, turned ? at - 12 : at + 12, low - 4, INK, turned ? "right" : "left");
  }
  lineOf(pen, [[x - 14, y], [x + 14, y]], LIPS, 3); lineOf(pen, [[x, y - 14], [x, y + 14]], LIPS, 3);
  if (state.blowing) { pen.strokeStyle = LIPS; pen.lineWidth = 3; pen.beginPath(); pen.arc(x, y, 18, 0, 7); pen.stroke(); }
}

/** Harmonics of the sound (bars) over the input impedance (line), both in dB under their top. */
function drawHarmonics(choice, heardHz, spectrum, rate) {
  if (document.getElementById("more").hidden) return;
  const box = canvasOf("harmonics"), { pen } = box, hz = data.field.curve_hz, EDGE = edgeOf(box);
  const first = hz[0], last = hz[hz.length - 1];
  const x = (f) => EDGE.left + (box.width - EDGE.left - EDGE.right) * Math.log(f / first) / Math.log(last / first);
  const y = (db) => EDGE.top - 30 + (box.height - EDGE.top - EDGE.bottom + 30) * Math.min(60, Math.max(0, -db)) / 60;
  lineOf(pen, hz.map((f, i) => [x(f), y(choice.curve_db[i])]), GREY, 2);
  for (const f of [100, 200, 500, 1000, 2000]) words_at(pen, String(f), x(f), box.height - EDGE.bottom + 20, INK, "center");
  words_at(pen, words.spectrum_axes, EDGE.left, box.height - 5, INK);
  for (const db of [0, -20, -40, -60]) words_at(pen, `${db}`, EDGE.left - 6, y(db) + 5, INK, "right");
  if (!heardHz) return;
  const levels = [];
  for (let n = 1; n * heardHz < last; n++) levels.push(spectrum[Math.round(n * heardHz * 4096 / rate)] ?? -120);
  const top = Math.max(...levels);
  levels.forEach((db, i) => {
    const at = x((i + 1) * heardHz);
    lineOf(pen, [[at, y(-60)], [at, y(db - top)]], SOUND, 6);
  });
}
