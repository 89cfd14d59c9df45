// Pictures of the live horn, drawn on canvases: the field, the path, the harmonics.

/** A colour of the page, by its name. */
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const [INK, SOUND, LIPS, GREY, PAPER, BAND, FAINT] = ["ink", "sound", "lips", "air-column", "paper", "band", "faint"].map(colour);
const [LOW, HIGH] = data.field.tension_hz, TOP = data.field.pressure_pa;

/** A sharp canvas of its width now; {pen, width, height}. */
function canvasOf(id) {
  const canvas = document.getElementById(id), more = Math.max(1, devicePixelRatio || 1);
  const width = canvas.clientWidth, height = Number(canvas.getAttribute("data-height") || canvas.height);
  if (!canvas.hasAttribute("data-height")) canvas.setAttribute("data-height", height);
  if (canvas.width !== Math.round(width * more) || canvas.height !== Math.round(height * more)) {
    canvas.width = Math.round(width * more); canvas.height = Math.round(height * more);
    canvas.style.height = `${height}px`;
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(more, 0, 0, more, 0, 0);
  pen.fillStyle = PAPER; pen.fillRect(0, 0, width, height);
  pen.font = `${width < 520 ? 13 : 17}px system-ui, sans-serif`;
  return { pen, width, height };
}

const EDGE = { left: 56, right: 26, top: 46, bottom: 44 };
const across = (box, hz) => EDGE.left + (box.width - EDGE.left - EDGE.right) * Math.log(hz / LOW) / Math.log(HIGH / LOW);
const upwards = (box, pa) => box.height - EDGE.bottom - (box.height - EDGE.top - EDGE.bottom) * pa / TOP;
const settingAt = (box, x) => LOW * Math.exp(Math.log(HIGH / LOW) * Math.min(1, Math.max(0, (x - EDGE.left) / (box.width - EDGE.left - EDGE.right))));
const breathAt = (box, y) => TOP * Math.min(1, Math.max(0, (box.height - EDGE.bottom - y) / (box.height - EDGE.top - EDGE.bottom)));

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
  let last = -100;
  for (const hz of [50, 70, 100, 150, 200, 300, 400, 500, 700, 1000]) {
    const x = across(box, hz);
    if (hz < LOW || hz > HIGH || x - last < 36) continue;
    last = x;
    lineOf(pen, [[x, box.height - EDGE.bottom], [x, box.height - EDGE.bottom + 5]], INK, 1);
    words_at(pen, String(hz), x, box.height - EDGE.bottom + 20, INK, "center");
  }
  words_at(pen, label, EDGE.left, box.height - 5, INK);
  words_at(pen, y, 4, EDGE.top - 28, INK);
}

/** The playing field: slots, resonances, where the hand is, the marks of lips, note and mouth. */
function drawField(choice, state, heardHz) {
  const box = canvasOf("field"), { pen } = box;
  const thick = (box.height - EDGE.top - EDGE.bottom) / 4.2;
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
    lineOf(pen, [[x, EDGE.top], [x, box.height - EDGE.bottom]], GREY, 1.5, [2, 4]);
    if (x - last > 44) { words_at(pen, `${one.n} ${one.written}`, x, EDGE.top - 6, GREY, "center"); last = x; }
  }
  for (let kpa = 0; kpa <= TOP / 1000; kpa += 5) {
    words_at(pen, String(kpa), EDGE.left - 8, upwards(box, kpa * 1000) + 5, INK, "right");
    lineOf(pen, [[EDGE.left, upwards(box, kpa * 1000)], [box.width - EDGE.right, upwards(box, kpa * 1000)]], FAINT, 1);
  }
  axis(pen, box, words.lips_axis, words.breath_axis);
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

/** The note over the lip setting, as just played: up solid, down dashed. */
function drawPath(choice, path) {
  const box = canvasOf("path"), { pen } = box, tall = box.height - EDGE.top - EDGE.bottom;
  const heardAt = (hz) => box.height - EDGE.bottom - tall * Math.log(hz / LOW) / Math.log(HIGH * 1.2 / LOW);
  let last = Infinity;
  for (const one of choice.resonances) {
    if (one.frequency_hz < LOW || one.frequency_hz > HIGH * 1.2) continue;
    const y = heardAt(one.frequency_hz);
    lineOf(pen, [[EDGE.left, y], [box.width - EDGE.right, y]], GREY, 1, [2, 4]);
    if (last - y > 17) { words_at(pen, one.written, EDGE.left - 6, y + 5, GREY, "right"); last = y; }
  }
  axis(pen, box, words.lips_axis, words.heard_axis);
  for (let i = 1; i < path.length; i++) {
    const [f0, p0] = path[i - 1], [f1, p1] = path[i];
    if (!p0 || !p1) continue;
    const up = f1 >= f0;
    lineOf(pen, [[across(box, f0), heardAt(p0)], [across(box, f1), heardAt(p1)]], up ? SOUND : LIPS, 3, up ? [] : [5, 4]);
  }
}

/** Harmonics of the sound (bars) over the input impedance (line), both in dB under their top. */
function drawHarmonics(choice, heardHz, spectrum, rate) {
  const box = canvasOf("harmonics"), { pen } = box, hz = data.field.curve_hz;
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
