// The map that can be heard: cells to click, to walk with the arrow keys, to draw a path over.

const PARTIALS = [1, 2, 3, 4, 5, 6, 7, 8].map((n) => colour(`partial-${n}`));
const GLIDING = colour("gliding"), UNSTEADY = colour("unsteady");
const A_NOTE = 0.34; // s of each note of a path

const colourOf = (n) => (n ? PARTIALS[(n - 1) % PARTIALS.length] : GLIDING);
const near = (list, value) => list.reduce((best, v, i) => (Math.abs(v - value) < Math.abs(list[best] - value) ? i : best), 0);

/** `colour` mixed with paper, as the picture of a map mixes it. */
function pale(colour) {
  const parts = [1, 3, 5].map((i) => parseInt(colour.slice(i, i + 2), 16));
  return `rgb(${parts.map((v) => Math.round(0.6 * 255 + 0.4 * v)).join(",")})`;
}

/** A lock as it is told: how far the pitch moves when the lips move. */
function lockShown(lock) {
  const moves = Math.round(100 * (1 - lock));
  return `${lock.toFixed(2)} (pitch moves ${Math.abs(moves)} cents for 100 of the lips${moves < 0 ? " against them" : ""})`;
}

class Ground {
  constructor(box) {
    this.data = lesson.data.maps[Number(box.dataset.map)];
    this.box = box;
    this.canvas = box.querySelector(".ground");
    this.said = box.querySelector(".cell");
    this.across = box.querySelector(".across");
    this.up = box.querySelector(".up");
    this.match = box.querySelector(".match");
    this.buffers = this.data.sounds.map(() => null);
    this.voices = [];
    this.path = [];
    this.stop = () => this.hush();
    players.add(this.stop);
    [this.row, this.column] = this.firstCell();
    this.listen();
    this.waiting = this.decodeAll();
    this.ground = this.canvas.parentElement;
    fitted(this.ground, () => this.draw());
    fitted(this.match, () => this.drawMatch());
    this.tell();
  }

  /** Begin where a note is held, in the middle of the breath. */
  firstCell() {
    const rows = this.data.cells, row = Math.floor(rows.length / 2);
    const column = rows[row].findIndex((cell) => cell && cell.state === "locked");
    return [row, Math.max(column, 0)];
  }

  async decodeAll() {
    const decoder = new OfflineAudioContext(1, 1, 24000);
    for (let row = 0; row < this.buffers.length; row++) {
      const r = (this.row + row) % this.buffers.length; // the row one stands in first
      try {
        this.buffers[r] = await decoder.decodeAudioData(bytesOf(this.data.sounds[r]));
      } catch {
        tell("This browser cannot decode the sounds of the map.");
        return;
      }
    }
    this.box.dataset.ready = "yes";
  }

  /** Samples of one cell at 24 kHz, for whoever wants to measure them. */
  samples(row, column) {
    const from = Math.round(column * this.data.apart_s * 24000);
    return this.buffers[row].getChannelData(0).slice(from, from + Math.round(this.data.note_s * 24000));
  }

  listen() {
    const on = (name, kind, act) => this.box.querySelector(name).addEventListener(kind, act);
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.canvas.addEventListener("pointerdown", (event) => {
      this.path = [];
      this.drawingPath = true;
      this.canvas.setPointerCapture(event.pointerId);
      this.point(event);
    });
    this.canvas.addEventListener("pointermove", (event) => { if (this.drawingPath) this.point(event); });
    this.canvas.addEventListener("pointerup", () => this.lift());
    this.canvas.addEventListener("pointercancel", () => { this.drawingPath = false; });
    on(".across", "input", () => this.go(this.row, Number(this.across.value)));
    on(".up", "input", () => this.go(Number(this.up.value), this.column));
    on(".again", "click", () => this.play());
    on(".tighten", "click", () => this.walk(this.data.columns.map((_, c) => [this.row, c])));
    on(".harder", "click", () => this.walk(this.data.rows.map((_, r) => [r, this.column])));
    on(".path", "click", () => this.walk(this.path));
  }

  key(event) {
    const step = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowUp: [1, 0], ArrowDown: [-1, 0] }[event.key];
    if (step) this.go(this.row + step[0], this.column + step[1]);
    else if (event.key === "Enter" || event.key === " ") this.play();
    else return;
    event.preventDefault();
  }

  point(event) {
    const box = this.canvas.getBoundingClientRect();
    const column = near(this.data.columns.map((c) => this.xOf(c)), event.clientX - box.left);
    const row = near(this.data.rows.map((r) => this.yOf(r)), event.clientY - box.top);
    const last = this.path[this.path.length - 1];
    if (last && last[0] === row && last[1] === column) return;
    this.path.push([row, column]);
    if (this.path.length === 1) this.go(row, column); else { [this.row, this.column] = [row, column]; this.draw(); }
  }

  lift() {
    if (!this.drawingPath) return;
    this.drawingPath = false;
    if (this.path.length > 1) this.walk(this.path); else { this.path = []; this.draw(); }
  }

  go(row, column) {
    this.row = Math.min(Math.max(row, 0), this.data.rows.length - 1);
    this.column = Math.min(Math.max(column, 0), this.data.columns.length - 1);
    this.play();
    this.tell();
    this.draw();
  }

  get cell() { return this.data.cells[this.row][this.column]; }

  // ---- sound

  hush() {
    clearTimeout(this.next);
    for (const voice of this.voices) {
      voice.gain.gain.cancelScheduledValues(0);
      voice.gain.gain.setTargetAtTime(0, context.currentTime, 0.01);
      voice.source.stop(context.currentTime + 0.05);
    }
    this.voices = [];
  }

  /** One cell at `when` s of the audio clock, for `length` s. */
  voice(row, column, when, length) {
    const cell = this.data.cells[row][column], buffer = this.buffers[row];
    if (!cell || !buffer) return;
    const source = context.createBufferSource(), gain = context.createGain();
    const chosen = this.box.querySelector("input[type=radio]:checked");
    const level = chosen && chosen.value === "true" ? 10 ** (cell.level_db / 20) : 1;
    source.buffer = buffer;
    gain.gain.setValueAtTime(level, when);
    gain.gain.setValueAtTime(level, when + length - 0.03);
    gain.gain.linearRampToValueAtTime(0, when + length);
    source.connect(gain).connect(master);
    source.start(when, column * this.data.apart_s, length);
    this.voices.push({ source, gain });
  }

  play() {
    silence();
    audio();
    if (!this.buffers[this.row]) { this.waiting.then(() => this.buffers[this.row] && this.play()); return; }
    this.voice(this.row, this.column, context.currentTime + 0.005, this.data.note_s);
  }

  /** A phrase: every cell of `cells` in turn, the cursor going along. */
  walk(cells) {
    if (!cells.length) { this.said.textContent = "Draw a path over the map first, with mouse or finger."; return; }
    silence();
    audio();
    const from = context.currentTime + 0.05;
    this.path = cells;
    cells.forEach(([row, column], i) => this.voice(row, column, from + i * A_NOTE, A_NOTE + 0.03));
    const follow = (i) => {
      if (i >= cells.length) { this.tell(); return; }
      [this.row, this.column] = cells[i];
      this.draw();
      this.tell(false);
      this.next = setTimeout(() => follow(i + 1), Math.max(0, (from + (i + 1) * A_NOTE - context.currentTime) * 1000));
    };
    this.next = setTimeout(() => follow(0), 50);
  }

  // ---- words and pictures

  tell(aloud = true) {
    const { data, cell } = this, tension = data.tension_hz[data.columns[this.column]], breath = data.pressure_kpa[data.rows[this.row]];
    const where = `Lip setting ${tension.toFixed(0)} Hz, ${breath.toFixed(1)} kPa: `;
    let what = "silent.";
    if (cell && cell.frequency_hz === undefined) what = "unsteady, no pitch.";
    else if (cell) {
      const partial = cell.partial && cell.state !== "free" ? `, partial ${cell.partial}, ${signed(cell.from_partial)} cents from it` : "";
      const lock = cell.lock === null ? "" : `, lock ${lockShown(cell.lock)}`;
      what = `${cell[data.first]} (${data.first}), ${cell.frequency_hz.toFixed(1)} Hz${partial}${lock}, ${cell.state}.`;
    }
    this.said.setAttribute("aria-live", aloud ? "polite" : "off");
    this.said.textContent = where + what;
    this.across.value = this.column;
    this.up.value = this.row;
    this.across.setAttribute("aria-valuetext", `${tension.toFixed(0)} hertz`);
    this.up.setAttribute("aria-valuetext", `${breath.toFixed(1)} kilopascal`);
    this.drawMatch();
  }

  xOf(c) { const n = this.data.tension_hz.length; return this.left + ((c + 0.5) / n) * (this.width - this.left - 8); }
  yOf(r) { const n = this.data.pressure_kpa.length; return this.bottom - ((r + 0.5) / n) * (this.bottom - this.top); }

  draw() {
    const { data } = this, width = this.ground.clientWidth, size = letters(width);
    if (!width) return;
    const height = heightFor(this.ground, width, 0.5);
    Object.assign(this, { width, left: size * 2.6, top: size * 1.5, bottom: height - size * 2.6 });
    const pen = sharp(this.canvas, width, height);
    const w = (width - this.left - 8) / data.tension_hz.length, h = (this.bottom - this.top) / data.pressure_kpa.length;
    pen.clearRect(0, 0, width, height);
    data.state.forEach((line, r) => line.forEach((state, c) => {
      const n = data.partial[r][c];
      if (!state || state === "silent") return;
      pen.fillStyle = state === "unsteady" ? UNSTEADY : state === "locked" ? colourOf(n) : pale(colourOf(n));
      pen.fillRect(this.xOf(c) - w / 2 - 0.3, this.yOf(r) - h / 2 - 0.3, w + 0.6, h + 0.6);
    }));
    this.axes(pen, size);
    this.names(pen, size);
    pen.lineJoin = "round";
    if (this.path.length > 1) {
      for (const [colour, thick] of [[PAPER, 7], [INK, 3]]) {
        pen.beginPath();
        this.path.forEach(([r, c]) => pen.lineTo(this.xOf(data.columns[c]), this.yOf(data.rows[r])));
        pen.strokeStyle = colour;
        pen.lineWidth = thick;
        pen.stroke();
      }
    }
    const x = this.xOf(data.columns[this.column]), y = this.yOf(data.rows[this.row]), half = Math.max(w, 12);
    for (const [colour, thick] of [[PAPER, 8], [INK, 4]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = thick;
      pen.strokeRect(x - half, y - half, 2 * half, 2 * half);
    }
  }

  axes(pen, size) {
    const { data } = this;
    pen.font = `${size}px ${FONT}`;
    pen.fillStyle = INK;
    pen.textAlign = "center";
    let last = -1e9;
    for (const f of [20, 30, 50, 70, 100, 150, 200, 300, 400, 500, 600, 800, 1000, 1500, 2000]) {
      const x = this.place(data.tension_hz, f, (c) => this.xOf(c));
      if (x === null || x - last < size * 2.6) continue;
      last = x;
      pen.fillText(f, x, this.bottom + size * 1.2);
    }
    pen.textAlign = "right";
    pen.fillText("lip setting, Hz", this.width - 8, this.bottom + size * 2.4);
    last = 1e9;
    for (const p of [0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 30, 40]) {
      const y = this.place(data.pressure_kpa, p, (r) => this.yOf(r));
      if (y === null || last - y < size * 1.3) continue;
      last = y;
      pen.fillText(p, this.left - 6, y + size * 0.35);
    }
    pen.textAlign = "left";
    pen.fillText("blowing pressure, kPa", 0, size);
    pen.strokeStyle = INK;
    pen.lineWidth = 1;
    pen.strokeRect(this.left, this.top, this.width - this.left - 8, this.bottom - this.top);
  }

  /** Where `value` lies between the middles of cells, or null outside. */
  place(values, value, at) {
    const i = values.findIndex((v) => v >= value - 1e-9);
    if (i < 0 || value < values[0] - 1e-9) return null;
    if (i === 0) return at(0);
    return at(i - 1 + (value - values[i - 1]) / (values[i] - values[i - 1]));
  }

  names(pen, size) {
    const { data } = this, sums = {};
    data.partial.forEach((line, r) => line.forEach((n, c) => {
      if (!n || data.state[r][c] !== "locked") return;
      const sum = (sums[n] ??= { x: 0, y: 0, count: 0 });
      sum.x += this.xOf(c); sum.y += this.yOf(r); sum.count += 1;
    }));
    pen.textAlign = "center";
    pen.font = `700 ${size}px ${FONT}`;
    pen.lineWidth = 5;
    pen.strokeStyle = PAPER;
    pen.fillStyle = INK;
    pen.lineJoin = "round";
    let last = -1e9;
    for (const [n, sum] of Object.entries(sums)) {
      if (sum.count < 4 || sum.x / sum.count - last < size * 1.9) continue;
      last = sum.x / sum.count;
      [n, data.names[n]].forEach((text, i) => {
        const y = sum.y / sum.count + (i - 0.2) * size * 1.1;
        pen.strokeText(text, sum.x / sum.count, y);
        pen.fillText(text, sum.x / sum.count, y);
      });
    }
  }

  /** The harmonics of this cell's note against the resonances. */
  drawMatch() {
    const width = this.match.clientWidth, { cell, data } = this;
    if (!width) return;
    const size = letters(width), height = before() ? Math.max(60, this.match.clientHeight) : Math.round(Math.min(Math.max(width * 0.24, 170), 280));
    const foot = size * 2.5, top = size * 0.8, high = 2400, left = size * 2.6;
    this.match.replaceChildren();
    const svg = shape(this.match, "svg", { width, height, viewBox: `0 0 ${width} ${height}`, "font-size": size, "font-family": FONT, fill: INK, "aria-hidden": "true" });
    const x = (f) => left + (f / high) * (width - left - 6), y = (db) => height - foot + (Math.max(db, -50) / 50 + 1) * (top + foot - height);
    for (const f of ticks(0, high, Math.min(8, width / 90))) shape(svg, "text", { x: x(f), y: height - foot + size * 1.2, "text-anchor": "middle" }, f);
    for (const db of [0, -20, -40]) shape(svg, "text", { x: left - 6, y: y(db) + size * 0.35, "text-anchor": "end" }, String(db).replace("-", "−"));
    shape(svg, "text", { x: width - 6, y: height - 4, "text-anchor": "end" }, "frequency, Hz");
    shape(svg, "text", { x: 0, y: height - 4 }, "dB");
    shape(svg, "line", { x1: left, x2: width - 6, y1: y(-50), y2: y(-50), stroke: INK });
    const inside = data.curve.frequency_hz.filter((f) => f <= high).length;
    const bars = cell && cell.harmonics_db ? cell.harmonics_db : [];
    bars.forEach((db, i) => {
      const f = (i + 1) * cell.frequency_hz;
      if (f > high || db < -50) return;
      shape(svg, "line", { x1: x(f), x2: x(f), y1: y(-50), y2: y(db), stroke: SOUND, "stroke-width": Math.max(5, width / 130) });
    });
    shape(svg, "path", { d: pathOf(data.curve.frequency_hz.slice(0, inside).map(x), data.curve.level_db.slice(0, inside).map(y), () => true), fill: "none", stroke: AIR, "stroke-width": 2.5 });
  }
}
