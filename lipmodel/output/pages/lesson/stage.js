// A section's stage: its sounds over an empty axis, the question and its hands, then the curves.

const STEPS = ["hear", "ask", "reveal"];
const TOGETHER = 4; // sounds whose curves are drawn together; of more, the chosen and the first
const MARKS = [50, 70, 100, 150, 200, 300, 400, 500, 600, 800, 1000, 1500, 2000]; // Hz, of octaves

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

class Stage {
  constructor(box) {
    this.box = box;
    this.takes = lesson.data.stages[Number(box.dataset.stage)].takes;
    this.chart = box.querySelector(".chart");
    this.answer = box.querySelector(".answer");
    this.voices = new Voices([...box.querySelectorAll("audio")]);
    this.steps = STEPS.filter((s) => (s === "hear" ? this.chart : s === "ask" ? box.querySelector(".guess") : this.answer));
    this.heard = new Set();
    this.step = this.steps[0];
    this.hands = [...box.querySelectorAll(".hands")];
    for (const input of this.hands) input.addEventListener("input", () => this.count());
    this.answer?.addEventListener("toggle", () => {
      if (this.answer.open) this.go("reveal");
      else if (this.step === "reveal") this.go(this.steps[0]);
    });
    if (this.chart) this.begin();
    box.dataset.step = this.step ?? "";
  }

  begin() {
    this.length = Math.max(...this.takes.map((t) => t.length_s));
    this.blank = this.chart.getAttribute("aria-label");
    this.button = this.box.querySelector(".play");
    this.name = this.button.getAttribute("aria-label").replace("Play ", "");
    this.slider = this.box.querySelector(".at input");
    this.switches = [...this.box.querySelectorAll("button.which")];
    for (const element of this.voices.elements) element.controls = false;
    players.add((this.stop = () => { this.voices.halt(); this.label(); }));
    this.button.addEventListener("click", () => this.toggle());
    this.slider.addEventListener("input", () => this.seek(Number(this.slider.value)));
    this.switches.forEach((button, i) => button.addEventListener("click", () => this.choose(i)));
    this.chart.addEventListener("pointerdown", (event) => this.seek(this.timeAt(event.clientX - this.chart.getBoundingClientRect().left)));
    fitted(this.chart, (width) => this.draw(width));
  }

  // ---- steps

  get open() { return this.step === "reveal" || paper === "handout"; }

  go(step) {
    if (step === this.step) return;
    this.step = this.box.dataset.step = step;
    if (this.answer && this.answer.open !== (step === "reveal")) this.answer.open = step === "reveal";
    this.count();
    if (this.chart?.clientWidth) this.draw(this.chart.clientWidth);
    foot();
  }

  /** What the clicker's key will do here: words and an action, or null when all is done. */
  next() {
    const unheard = this.takes.slice(0, TOGETHER).findIndex((_, i) => !this.heard.has(i));
    if (this.step === "hear" && unheard >= 0) {
      const name = this.takes.length > 1 ? `play ${unheard + 1}` : "play";
      return [name, () => { this.choose(unheard); this.voices.running || this.play(); }];
    }
    const later = this.steps[this.steps.indexOf(this.step) + 1];
    if (!later) return null;
    return [later === "ask" ? "the question" : "the answer", () => { silence(); this.go(later); this.focus(); }];
  }

  /** One step back; false at the first. */
  back() {
    const earlier = this.steps[this.steps.indexOf(this.step) - 1];
    if (!earlier) return false;
    silence();
    this.go(earlier);
    this.focus();
    return true;
  }

  fresh() {
    this.heard.clear();
    if (this.chart) { this.voices.at = 0; this.choose(0); }
    if (this.steps.length) this.go(this.steps[0]);
  }

  focus() { (this.step === "ask" && this.hands[0] ? this.hands[0] : this.box).focus({ preventScroll: true }); }

  /** Hands as bars while they go up; at the answer, how many had it. */
  count() {
    const votes = this.hands.map((input) => Math.max(0, Math.floor(Number(input.value) || 0)));
    const all = votes.reduce((a, b) => a + b, 0), most = Math.max(...votes, 1);
    this.box.querySelectorAll(".vote").forEach((bar, i) => { bar.style.width = `${(100 * votes[i]) / most}%`; });
    const counted = this.box.querySelector(".counted"), right = this.box.querySelector(".right b");
    if (counted) counted.textContent = all ? `${votes["ABCD".indexOf(right.textContent[0])]} of ${all} hands` : "";
  }

  // ---- sound

  toggle() {
    if (this.voices.running || this.voices.wanted) { this.stop(); return; }
    this.play();
  }

  play() {
    silence(this.stop);
    this.heard.add(this.voices.chosen);
    const ended = () => { this.label(); this.cursor(this.length); };
    this.voices.start(ended).then((runs) => { this.label(); if (runs) this.follow(); }, () => tell("This browser cannot play the sound."));
    foot();
  }

  choose(number) {
    if (number >= this.takes.length) return;
    this.voices.choose(number);
    if (this.voices.running) this.heard.add(number);
    this.switches.forEach((b, i) => b.setAttribute("aria-pressed", String(i === number)));
    if (this.chart.clientWidth) this.draw(this.chart.clientWidth);
    foot();
  }

  seek(time) {
    const running = this.voices.running;
    this.voices.halt();
    this.voices.at = time;
    if (running) this.play(); else { this.cursor(time); this.slider.value = time; }
  }

  label() {
    const word = this.voices.running ? "Pause" : "Play";
    this.button.textContent = word;
    this.button.setAttribute("aria-label", `${word} ${this.name}`);
  }

  follow() {
    let shown = -1;
    const each = still.matches ? 0.25 : 0; // s between two places of the cursor
    const frame = () => {
      if (!this.voices.running) return;
      const time = this.voices.time;
      if (Math.abs(time - shown) >= each) { shown = time; this.cursor(time); this.slider.value = time; }
      requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }

  timeAt(x) {
    const share = (x - this.left) / (this.width - this.left - this.right);
    return Math.min(Math.max(share, 0), 1) * this.length;
  }

  // ---- the axis

  draw(width) {
    const data = this.takes[this.voices.chosen], size = letters(width), height = paper === "worksheet" ? width * 0.31 : heightFor(this.chart, width, 0.46);
    Object.assign(this, { data, width, height, left: size * 3.4, right: size * 2.8, top: size * 1.6, foot: size * 2.6 });
    this.bottom = height - this.foot;
    this.chart.replaceChildren();
    this.chart.setAttribute("aria-label", this.open ? this.takes.map((t) => (this.takes.length > 1 ? `${t.name}: ${t.seen}` : t.seen)).join(" ") : this.blank);
    const svg = shape(this.chart, "svg", { width, height, viewBox: `0 0 ${width} ${height}`, "font-size": size, "font-family": FONT, fill: INK, "aria-hidden": "true" });
    this.x = (t) => this.left + (t / this.length) * (width - this.left - this.right);
    for (const t of ticks(0, this.length, Math.min(10, width / (4 * size)))) {
      shape(svg, "line", { x1: this.x(t), x2: this.x(t), y1: this.bottom, y2: this.bottom + 6, stroke: INK });
      shape(svg, "text", { x: this.x(t), y: this.bottom + size * 1.15, "text-anchor": "middle" }, t);
    }
    shape(svg, "line", { x1: this.left, x2: width - this.right, y1: this.bottom, y2: this.bottom, stroke: INK });
    shape(svg, "line", { x1: this.left, x2: this.left, y1: this.top, y2: this.bottom, stroke: INK });
    shape(svg, "text", { x: width - this.right, y: height - size * 0.3, "text-anchor": "end" }, "time, s");
    const axis = data.kind === "pitch" ? this.pitchAxis(svg, size) : this.levelAxis(svg, size);
    this.y = axis;
    if (this.open) this.curves(svg, size, axis);
    this.line = shape(svg, "line", { y1: this.top, y2: this.bottom, stroke: INK, "stroke-width": 3, class: "cursor" });
    this.dot = this.reading = null;
    if (this.open) {
      this.dot = shape(svg, "circle", { class: "cursor", r: size * 0.45, fill: INK, stroke: PAPER, "stroke-width": 2 });
      this.reading = shape(svg, "text", { y: this.top - size * 0.4, "font-weight": 700 });
    }
    this.cursor(this.voices.time);
  }

  /** Numbers of the pitch axis; gives the height of a frequency in Hz. */
  pitchAxis(svg, size) {
    const known = this.takes.filter((t) => t.kind === "pitch").flatMap((t) => [...t.frequency_hz.filter((f) => f !== null), ...t.setting_hz]);
    const low = Math.log2(Math.min(...known)) - 0.15, high = Math.log2(Math.max(...known)) + 0.15;
    const y = (f) => this.bottom - ((Math.log2(f) - low) / (high - low)) * (this.bottom - this.top);
    let last = Infinity;
    const wide = high - low > 1.5; // octaves; else even steps
    for (const f of wide ? MARKS : ticks(2 ** low, 2 ** high, 6)) {
      const place = y(f);
      if (place > this.bottom || place < this.top || last - place < size * 1.3) continue;
      last = place;
      shape(svg, "text", { x: this.left - 8, y: place + size * 0.35, "text-anchor": "end" }, f);
    }
    shape(svg, "text", { x: 0, y: size }, "Hz");
    return y;
  }

  levelAxis(svg, size) {
    const y = (db) => this.bottom - ((db + 60) / 60) * (this.bottom - this.top);
    for (const db of [-60, -40, -20, 0]) shape(svg, "text", { x: this.left - 8, y: y(db) + size * 0.35, "text-anchor": "end" }, String(db).replace("-", "−"));
    shape(svg, "text", { x: 0, y: size }, "dB");
    return y;
  }

  /** All sounds of the chosen one's kind, the chosen one on top and thickest. */
  curves(svg, size, y) {
    const { data } = this;
    if (data.kind === "pitch") this.around(svg, size, y);
    const order = this.takes.map((_, i) => i).filter((i) => this.takes[i].kind === data.kind && (this.takes.length <= TOGETHER || i === 0 || i === this.voices.chosen));
    order.sort((a, b) => (a === this.voices.chosen) - (b === this.voices.chosen));
    for (const i of order) {
      const take = this.takes[i], values = data.kind === "pitch" ? take.frequency_hz : take.level_db;
      const near = (a, b) => data.kind === "level" || Math.abs(Math.log2(a / b)) < 0.08;
      const held = (k) => k > 0 && values[k - 1] !== null && near(values[k], values[k - 1]);
      const path = pathOf(take.time_s.map(this.x), values.map((v) => (v === null ? null : y(v))), held);
      const thick = size * (i === this.voices.chosen ? 0.28 : 0.16);
      shape(svg, "path", { d: path, fill: "none", class: `curve sample${i % 4}`, "stroke-width": thick });
    }
  }

  /** What the pitch is seen against: the resonances of the chosen tube, and the lip setting. */
  around(svg, size, y) {
    const { data } = this, end = this.width - this.right;
    let last = Infinity;
    for (const r of data.resonances) {
      const place = y(r.frequency_hz);
      if (place > this.bottom || place < this.top) continue;
      shape(svg, "line", { x1: this.left, x2: end, y1: place, y2: place, stroke: colour("resonance"), "stroke-width": 1 });
      if (last - place < size * 1.1) continue;
      last = place;
      shape(svg, "text", { x: end + 6, y: place + size * 0.35, fill: AIR }, r.name);
    }
    const set = pathOf(data.time_s.map(this.x), data.setting_hz.map(y), () => true);
    shape(svg, "path", { d: set, fill: "none", stroke: LIPS, "stroke-width": 3, "stroke-dasharray": "2 7", "stroke-linecap": "round" });
    const at = Math.floor(data.time_s.length * 0.12);
    shape(svg, "text", { x: this.x(data.time_s[at]) + size * 0.6, y: Math.min(y(data.setting_hz[at]) + size * 1.5, this.bottom - size * 0.4), fill: LIPS }, "lips");
  }

  /** Cursor, and where the curve is there dot and reading, at `time` s. */
  cursor(time) {
    if (!this.line) return;
    const { data } = this, x = this.x(Math.min(time, this.length));
    this.line.setAttribute("x1", x);
    this.line.setAttribute("x2", x);
    this.chart.dataset.time = time.toFixed(3);
    if (!this.dot) return;
    let i = 0; // curves are even in time
    if (data.time_s.length > 1) i = Math.round((time - data.time_s[0]) / (data.time_s[1] - data.time_s[0]));
    i = Math.min(Math.max(i, 0), data.time_s.length - 1);
    const value = data.kind === "level" ? data.level_db[i] : data.frequency_hz[i];
    this.dot.setAttribute("cx", x);
    this.dot.setAttribute("cy", value === null || time > data.length_s ? -50 : this.y(value));
    const said = data.kind === "level" ? "" : value === null ? "–" : `${value.toFixed(0)} Hz`;
    const after = x < this.width * 0.7;
    this.reading.setAttribute("x", after ? x + 4 : x - 4);
    this.reading.setAttribute("text-anchor", after ? "start" : "end");
    this.reading.textContent = time > 0 ? said : "";
  }
}
