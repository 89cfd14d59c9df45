// The tube in slow motion: pressure as shade, motion as dots, the lips opening, the bell leaking.

const MOTION = 0.02; // of the tube's length: how far the dots swing at most
const THROAT = 0.1; // m from the lips: the air rushes there, and would dwarf the rest
const [OVER, UNDER] = ["over", "under"].map(colour).map((c) => [1, 3, 5].map((i) => parseInt(c.slice(i, i + 2), 16)));

/** A shade for a pressure from -1 (under the room's) to 1 (over it), paper between. */
function shade(value) {
  const share = Math.min(Math.abs(value), 1) ** 0.65, end = value > 0 ? OVER : UNDER;
  return `rgb(${end.map((v) => Math.round(255 + (v - 255) * share)).join(",")})`;
}

class Tube {
  constructor(box) {
    this.box = box;
    this.number = Number(box.dataset.tube);
    this.notes = lesson.data.tubes[this.number];
    this.canvas = box.querySelector("canvas");
    this.caption = box.querySelector(".caption");
    this.phase = 0;
    this.running = false;
    this.chosen = { note: 0, harmonic: 0, show: "both" };
    this.button = box.querySelector(".run");
    this.wanted = !still.matches; // it moves of itself, but not for those who asked for stillness
    this.button.addEventListener("click", () => { this.wanted = !this.running; this.run(this.wanted); });
    box.querySelector(".step").addEventListener("click", () => { this.wanted = false; this.run(false); this.phase += 1 / 24; this.draw(); });
    box.querySelector(".wide").addEventListener("change", () => this.draw());
    box.querySelector(".speed").addEventListener("input", () => this.tell());
    this.choices();
    this.prepare();
    box.querySelector(".wide").checked = box.clientWidth > 0 && box.clientWidth < 700;
    this.host = this.canvas.parentElement;
    fitted(this.host, () => this.draw());
    const watch = new IntersectionObserver((seen) => this.run(seen[seen.length - 1].isIntersecting && this.wanted), { threshold: 0.4 });
    watch.observe(this.canvas); // only while it is looked at
    still.addEventListener("change", () => { if (still.matches) { this.wanted = false; this.run(false); } });
  }

  choices() {
    const host = this.box.querySelector(".which");
    this.notes.forEach((note, i) => host.append(new Option(note.label, i)));
    this.box.addEventListener("change", (event) => {
      const kind = event.target.name?.replace(/\d+$/, "");
      if (!(kind in this.chosen)) return;
      this.chosen[kind] = kind === "show" ? event.target.value : Number(event.target.value);
      this.prepare();
      this.draw();
    });
  }

  /** Pressure, motion and opening over one period for what is chosen, frames by places. */
  prepare() {
    const note = this.notes[this.chosen.note], frames = note.frames, n = this.chosen.harmonic;
    const kept = n ? [note.harmonics[n - 1]] : note.harmonics;
    const sum = (re, im) => Array.from({ length: frames }, (_, k) => {
      const line = new Float64Array(note.x_m.length);
      for (const h of kept) {
        const cos = Math.cos((2 * Math.PI * h.n * k) / frames), sin = Math.sin((2 * Math.PI * h.n * k) / frames);
        for (let i = 0; i < line.length; i++) line[i] += h[re][i] * cos - h[im][i] * sin;
      }
      return line;
    });
    this.pressure = sum("pressure_re_pa", "pressure_im_pa");
    const speed = sum("velocity_re_m_s", "velocity_im_m_s");
    // where the air is: the sum of its velocity, about the middle
    const places = note.x_m.length, step = 1 / (note.frequency_hz * frames);
    this.moved = Array.from({ length: frames }, () => new Float64Array(places));
    for (let i = 0; i < places; i++) {
      let sum = 0, mean = 0;
      for (let k = 0; k < frames; k++) { sum += speed[k][i] * step; this.moved[k][i] = sum; mean += sum / frames; }
      for (let k = 0; k < frames; k++) this.moved[k][i] -= mean;
    }
    const top = (table) => table.reduce((m, line) => line.reduce((a, v) => Math.max(a, Math.abs(v)), m), 1e-12);
    this.note = note;
    this.mostPressure = top(this.pressure);
    const inside = note.x_m.findIndex((m) => m > THROAT);
    this.mostMoved = top(this.moved.map((line) => line.subarray(Math.max(inside, 0), places - 2)));
    this.larger = (MOTION * note.x_m[places - 1]) / this.mostMoved;
    this.tell();
  }

  tell() {
    const speed = Number(this.box.querySelector(".speed").value), slower = this.note.frequency_hz / speed;
    const larger = this.larger >= 10 ? Math.round(this.larger) : this.larger.toFixed(1);
    const digits = 10 ** Math.max(0, Math.floor(Math.log10(slower)) - 1);
    this.caption.textContent = `${this.note.label}: ${this.note.frequency_hz.toFixed(0)} Hz, about ${Math.round(slower / digits) * digits} times slower. ` +
      `Full shade ${(this.mostPressure / 1000).toPrecision(2)} kPa. Motion drawn ${larger} times as large (at most ${(1000 * this.mostMoved).toPrecision(2)} mm behind the mouthpiece).`;
  }

  run(on) {
    if (on === this.running) return;
    this.running = on;
    this.button.textContent = on ? "Pause" : "Start";
    let last = null;
    const frame = (now) => {
      if (!this.running) return;
      if (last !== null) this.phase += ((now - last) / 1000) * Number(this.box.querySelector(".speed").value);
      last = now;
      this.draw();
      requestAnimationFrame(frame);
    };
    if (on) requestAnimationFrame(frame);
  }

  /** A row of `table` at the present moment, between two frames. */
  now(table, back = 0) {
    const frames = this.note.frames, place = (((this.phase - back) % 1) + 1) % 1 * frames;
    const k = Math.floor(place) % frames, share = place - Math.floor(place), a = table[k], b = table[(k + 1) % frames];
    return (i) => (a[i] ?? a) * (1 - share) + (b[i] ?? b) * share;
  }

  draw() {
    const width = this.host.clientWidth;
    if (!width) return;
    const { note } = this, size = letters(width), length = note.x_m[note.x_m.length - 1];
    const widest = Math.max(...note.radius_m), lips = Math.max(70, width * 0.09), air = Math.max(50, width * 0.1);
    const scale = (width - lips - air) / length, free = before() ? heightFor(this.host) - size * 3.2 : Infinity;
    const larger = this.box.querySelector(".wide").checked ? 4 : 1, least = Math.min(free < 400 ? 70 : 120, free * 0.38);
    const thick = Math.min(larger, ((free - least) / 2 - 8) / (widest * scale)); // half the tube has its room
    const half = Math.min(Math.max(widest * scale * thick, 40) + 8, (free - least) / 2);
    const graph = Math.round(Math.max(least, Math.min(before() ? free - 2 * half : 220, width * (before() ? 0.3 : 0.17))));
    const height = Math.round(2 * half + graph + size * 3.2), middle = half;
    const pen = sharp(this.canvas, width, height);
    const x = (m) => lips + m * scale, r = (m) => Math.max(m * scale * thick, 1.5);
    this.canvas.dataset.phase = this.phase.toFixed(3);
    pen.clearRect(0, 0, width, height);
    pen.font = `${size}px ${FONT}`;
    const pressure = this.now(this.pressure), moved = this.now(this.moved);
    const both = this.chosen.show === "both";
    if (both || this.chosen.show === "pressure") {
      pen.save();
      pen.beginPath();
      pen.rect(x(length), 0, width, 2 * half);
      pen.clip();
      this.outside(pen, x(length), middle, r(note.radius_m[note.radius_m.length - 1]), width);
      pen.restore();
      for (let i = 0; i + 1 < note.x_m.length; i++) {
        pen.fillStyle = shade((0.5 * (pressure(i) + pressure(i + 1))) / this.mostPressure);
        const a = r(note.radius_m[i]), b = r(note.radius_m[i + 1]), from = x(note.x_m[i]), to = x(note.x_m[i + 1]) + 0.5;
        pen.beginPath();
        pen.moveTo(from, middle - a); pen.lineTo(to, middle - b); pen.lineTo(to, middle + b); pen.lineTo(from, middle + a);
        pen.fill();
      }
    }
    this.wall(pen, x, r, middle);
    if (both || this.chosen.show === "motion") this.dots(pen, x, r, middle, moved);
    this.lips(pen, lips, middle, Math.min(half, lips * 0.62), size);
    this.curve(pen, x, 2 * half + size * 1.2, graph, pressure, moved, size, width);
  }

  /** Motion over the largest behind the mouthpiece, kept within the picture. */
  swing(moved) { return Math.min(Math.max(moved / this.mostMoved, -1.2), 1.2); }

  wall(pen, x, r, middle) {
    const { note } = this;
    pen.strokeStyle = INK;
    pen.lineWidth = 2.5;
    for (const side of [-1, 1]) {
      pen.beginPath();
      note.x_m.forEach((m, i) => pen.lineTo(x(m), middle + side * (r(note.radius_m[i]) + 1)));
      pen.stroke();
    }
  }

  dots(pen, x, r, middle, moved) {
    const { note } = this, places = note.x_m.length, end = x(note.x_m[places - 1]);
    const each = Math.max(1, Math.ceil((10 * places) / (end - x(0)))); // some 10 px apart
    pen.fillStyle = INK;
    for (let i = 1; i < places; i += each) {
      const radius = r(note.radius_m[i]), rows = radius < 7 ? [0] : radius < 18 ? [-0.5, 0.5] : [-0.75, -0.4, 0, 0.4, 0.75];
      for (const row of rows) {
        pen.beginPath();
        pen.arc(x(note.x_m[i]) + this.swing(moved(i)) * (end - x(0)) * MOTION, middle + row * radius, rows.length > 1 || radius > 4 ? 2.6 : 2, 0, 7);
        pen.fill();
      }
    }
  }

  /** The wave that leaks out of the open end: later the further out, and weaker. */
  outside(pen, from, middle, radius, width) {
    const { note } = this, last = note.x_m.length - 1, scale = Math.max(radius, 12);
    const wave = (345 / note.frequency_hz) * ((width * 0.8) / note.x_m[last]); // px of a wavelength
    let top = 1e-12;
    for (const line of this.moved) top = Math.max(top, Math.abs(line[last]));
    pen.lineWidth = 4;
    for (let far = 2; from + far < width + radius; far += 3) {
      const value = this.now(this.moved, far / wave)(last) / top;
      pen.globalAlpha = (0.35 * scale) / (scale + far);
      pen.strokeStyle = shade(-value);
      pen.beginPath();
      pen.ellipse(from, middle, far, radius + far * 0.6, 0, -Math.PI / 2, Math.PI / 2);
      pen.stroke();
    }
    pen.globalAlpha = 1;
  }

  lips(pen, left, middle, half, size) {
    const { note } = this, most = Math.max(...note.lip_opening_mm2, 1e-9);
    const opening = this.now(note.lip_opening_mm2)(0), gap = Math.max(0, opening / most) * half * 0.45;
    pen.fillStyle = colour("flesh");
    pen.strokeStyle = INK;
    pen.lineWidth = 2;
    for (const side of [-1, 1]) {
      pen.beginPath();
      pen.ellipse(left * 0.5, middle + side * (gap / 2 + half * 0.28), left * 0.34, half * 0.28, 0, 0, 7);
      pen.fill();
      pen.stroke();
    }
    pen.fillStyle = INK;
    pen.textAlign = "left";
    pen.fillText("lips", 0, middle + half * 0.84 + size * 0.7);
  }

  /** The same as a curve along the tube, to read from the back row. */
  curve(pen, x, top, height, pressure, moved, size, width) {
    const { note } = this, middle = top + height / 2, end = x(note.x_m[note.x_m.length - 1]);
    pen.strokeStyle = AIR;
    pen.lineWidth = 1;
    pen.beginPath();
    pen.moveTo(x(0), middle);
    pen.lineTo(end, middle);
    pen.stroke();
    const line = (value, colour, dashes, thick) => {
      pen.beginPath();
      note.x_m.forEach((m, i) => pen.lineTo(x(m), middle - value(i) * height * 0.48));
      pen.strokeStyle = colour;
      pen.lineWidth = thick;
      pen.setLineDash(dashes);
      pen.stroke();
      pen.setLineDash([]);
    };
    if (this.chosen.show !== "motion") line((i) => pressure(i) / this.mostPressure, colour("over"), [], 4);
    if (this.chosen.show !== "pressure") line((i) => this.swing(moved(i)) / 1.2, INK, [9, 5], 3);
    pen.textAlign = "left";
    pen.fillStyle = colour("over");
    if (this.chosen.show !== "motion") pen.fillText("pressure", 0, top + size);
    pen.fillStyle = INK;
    if (this.chosen.show !== "pressure") pen.fillText("motion", 0, top + height - 2);
    pen.fillStyle = INK;
    for (const cm of ticks(0, 100 * note.x_m[note.x_m.length - 1], Math.min(8, width / 110))) {
      if (x(cm / 100) > width - size * (width < 520 ? 3 : 10)) break;
      pen.textAlign = "center";
      pen.fillText(cm, x(cm / 100), top + height + size * 1.2);
    }
    pen.textAlign = "right";
    pen.fillText(width < 520 ? "cm" : "cm from the lips", width, top + height + size * 1.2);
  }
}
