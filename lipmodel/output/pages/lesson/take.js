// One take: its sound, and the curve of its pitch (or loudness) with a cursor.

/** Places for numbers on an axis from `low` to `high`, at most `most` of them. */
function ticks(low, high, most) {
  const rough = (high - low) / most, ten = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * ten).find((s) => s >= rough);
  const found = [];
  for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + 1e-9; v += step) found.push(Number(v.toPrecision(6)));
  return found;
}

/** Pieces of a curve between silences and jumps, as the text of a path. */
function pathOf(xs, ys, whole) {
  let path = "", open = false;
  for (let i = 0; i < xs.length; i++) {
    if (ys[i] === null || !whole(i)) open = false;
    if (ys[i] === null) continue;
    path += `${open ? "L" : "M"}${xs[i].toFixed(1)} ${ys[i].toFixed(1)}`;
    open = true;
  }
  return path;
}

class Take {
  constructor(box) {
    this.box = box;
    this.number = Number(box.dataset.take);
    this.data = lesson.data.takes[this.number];
    this.audio = box.querySelector("audio");
    this.button = box.querySelector(".play");
    this.slider = box.querySelector(".at input");
    this.chart = box.querySelector(".chart");
    this.audio.controls = false;
    this.loud();
    this.stop = () => this.audio.pause();
    players.add(this.stop);
    this.button.addEventListener("click", () => this.toggle());
    this.slider.addEventListener("input", () => { this.audio.currentTime = Number(this.slider.value); this.cursor(Number(this.slider.value)); });
    for (const kind of ["play", "pause", "ended"]) this.audio.addEventListener(kind, () => this.label());
    this.chart.addEventListener("pointerdown", (event) => {
      const time = this.timeAt(event.clientX - this.chart.getBoundingClientRect().left);
      this.audio.currentTime = time;
      this.cursor(time);
    });
    fitted(this.chart, (width) => this.draw(width));
  }

  toggle() {
    if (!this.audio.paused) { this.audio.pause(); return; }
    silence(this.stop);
    this.audio.play().catch(() => { told.textContent = "This browser cannot play the sound."; });
    this.follow();
  }

  label() {
    const playing = !this.audio.paused && !this.audio.ended, name = this.audio.getAttribute("aria-label");
    this.button.textContent = playing ? "Pause" : "Play";
    this.button.setAttribute("aria-label", `${playing ? "Pause" : "Play"} ${name}`);
  }

  follow() {
    const frame = () => {
      this.cursor(this.audio.currentTime);
      this.slider.value = this.audio.currentTime;
      if (!this.audio.paused) requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }

  loud() { this.audio.volume = loudness() * turned(this.box); }

  timeAt(x) {
    const share = (x - this.left) / (this.width - this.left - this.right);
    return Math.min(Math.max(share, 0), 1) * this.data.length_s;
  }

  draw(width) {
    const data = this.data, size = letters(width), height = heightFor(width, 0.46, 0.62);
    Object.assign(this, { width, height, left: size * 3.4, right: size * 2.6, top: size * 1.6, foot: size * 2.6 });
    this.chart.replaceChildren();
    const svg = shape(this.chart, "svg", { width, height, viewBox: `0 0 ${width} ${height}`, "font-size": size, "font-family": FONT, fill: INK, "aria-hidden": "true" });
    const x = (t) => this.left + (t / data.length_s) * (width - this.left - this.right);
    this.x = x;
    for (const t of ticks(0, data.length_s, Math.min(10, width / 80))) {
      shape(svg, "line", { x1: x(t), x2: x(t), y1: height - this.foot, y2: height - this.foot + 6, stroke: INK });
      shape(svg, "text", { x: x(t), y: height - this.foot + size * 1.15, "text-anchor": "middle" }, t);
    }
    shape(svg, "line", { x1: this.left, x2: width - this.right, y1: height - this.foot, y2: height - this.foot, stroke: INK });
    shape(svg, "text", { x: width - this.right, y: height - 4, "text-anchor": "end" }, "time, s");
    if (data.kind === "pitch") this.pitch(svg, size); else this.level(svg, size);
    this.line = shape(svg, "line", { y1: this.top, y2: height - this.foot, stroke: LIPS, "stroke-width": 4, class: "cursor" });
    this.dot = shape(svg, "circle", { class: "cursor", r: size * 0.5, fill: LIPS, stroke: PAPER, "stroke-width": 2 });
    this.reading = shape(svg, "text", { y: this.top - size * 0.4, "font-weight": 700, fill: LIPS });
    this.cursor(this.audio.currentTime || 0);
  }

  pitch(svg, size) {
    const data = this.data, known = [...data.frequency_hz.filter((f) => f !== null), ...data.setting_hz];
    const low = Math.log2(Math.min(...known)) - 0.15, high = Math.log2(Math.max(...known)) + 0.15;
    const bottom = this.height - this.foot;
    const y = (f) => bottom - ((Math.log2(f) - low) / (high - low)) * (bottom - this.top);
    this.y = (i) => (data.frequency_hz[i] === null ? null : y(data.frequency_hz[i]));
    let last = Infinity;
    for (const r of data.resonances) {
      const place = y(r.frequency_hz);
      if (place > bottom || place < this.top) continue;
      shape(svg, "line", { x1: this.left, x2: this.width - this.right, y1: place, y2: place, stroke: colour("resonance"), "stroke-width": 1 });
      if (last - place < size * 1.1) continue;
      last = place;
      shape(svg, "text", { x: this.width - this.right + 6, y: place + size * 0.35, fill: GREY }, r.name);
    }
    last = Infinity;
    const wide = high - low > 1.5; // octaves; else even steps
    const marks = wide ? [50, 70, 100, 150, 200, 300, 400, 500, 600, 800, 1000, 1500, 2000] : ticks(2 ** low, 2 ** high, 6);
    for (const f of marks) {
      const place = y(f);
      if (place > bottom || place < this.top || last - place < size * 1.3) continue;
      last = place;
      shape(svg, "text", { x: this.left - 8, y: place + size * 0.35, "text-anchor": "end" }, f);
    }
    shape(svg, "text", { x: 0, y: size }, "Hz");
    const xs = data.time_s.map(this.x), near = (a, b) => Math.abs(Math.log2(a / b)) < 0.08;
    const held = (i) => i > 0 && data.frequency_hz[i - 1] !== null && near(data.frequency_hz[i], data.frequency_hz[i - 1]);
    shape(svg, "path", { d: pathOf(xs, data.setting_hz.map(y), () => true), fill: "none", stroke: LIPS, "stroke-width": 2.5, "stroke-dasharray": "9 6" });
    shape(svg, "path", { d: pathOf(xs, data.frequency_hz.map((f) => (f === null ? null : y(f))), held), fill: "none", stroke: SOUND, "stroke-width": 6, "stroke-linecap": "round" });
  }

  level(svg, size) {
    const bottom = this.height - this.foot, y = (db) => bottom - ((db + 60) / 60) * (bottom - this.top);
    for (const db of [-60, -40, -20, 0]) shape(svg, "text", { x: this.left - 8, y: y(db) + size * 0.35, "text-anchor": "end" }, String(db).replace("-", "−"));
    shape(svg, "text", { x: 0, y: size }, "dB");
    this.y = (i) => y(this.data.level_db[i]);
    const path = pathOf(this.data.time_s.map(this.x), this.data.level_db.map(y), () => true);
    shape(svg, "path", { d: path, fill: "none", stroke: SOUND, "stroke-width": 4 });
  }

  /** Cursor, dot and reading at `time` s. */
  cursor(time) {
    if (!this.line) return;
    const data = this.data, x = this.x(Math.min(time, data.length_s));
    this.line.setAttribute("x1", x);
    this.line.setAttribute("x2", x);
    this.chart.dataset.time = time.toFixed(3);
    let i = 0; // curves are even in time
    if (data.time_s.length > 1) i = Math.round((time - data.time_s[0]) / (data.time_s[1] - data.time_s[0]));
    i = Math.min(Math.max(i, 0), data.time_s.length - 1);
    const y = this.y(i);
    this.dot.setAttribute("cx", x);
    this.dot.setAttribute("cy", y ?? -50);
    const said = data.kind === "level" ? "" : data.frequency_hz[i] === null ? "–" : `${data.frequency_hz[i].toFixed(0)} Hz`;
    const after = x < this.width * 0.7;
    this.reading.setAttribute("x", after ? x + 4 : x - 4);
    this.reading.setAttribute("text-anchor", after ? "start" : "end");
    this.reading.textContent = time > 0 ? said : "";
  }
}
