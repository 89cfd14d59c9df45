// The page before a class: one slide at a time, one key for what comes next; and the page on paper.

const dark = document.getElementById("dark");
const wall = { at: 0, slides: [...document.querySelectorAll(".slide")] };
const place = document.getElementById("place"), button = document.getElementById("next");
const here = () => wall.slides[wall.at];
const stageHere = () => lesson.stages.find((stage) => stage.box === here());
const figuresHere = () => here().closest(".scene")?.querySelector(".figures");

/** Question and answers as large as their slide has room for, never under 28 px at 720 lines. */
function fit() {
  for (const share of [1, 0.93, 0.86, 0.79]) {
    here().style.setProperty("--fit", share);
    if (here().scrollHeight <= here().clientHeight) break;
  }
}

/** The line at the foot: what the next press does, and how far it is. */
function foot() {
  if (!before()) return;
  fit();
  const last = wall.at === wall.slides.length - 1;
  const words = stageHere()?.next()?.[0] ?? (last ? "the end" : "go on");
  button.textContent = `Next: ${words}`;
  place.textContent = `${wall.at + 1} / ${wall.slides.length}`;
}

function show(number) {
  wall.at = Math.min(Math.max(number, 0), wall.slides.length - 1);
  for (const slide of wall.slides) slide.classList.toggle("now", slide === here());
  here().tabIndex = -1;
  figures(false);
  stageHere()?.focus() ?? here().focus({ preventScroll: true });
  scrollTo(0, 0);
  foot();
}

/** The next thing: play, ask, reveal, go on. */
function next() {
  const act = stageHere()?.next();
  if (act) act[1]();
  else { silence(); show(wall.at + 1); }
  foot();
}

function back() {
  if (!stageHere()?.back()) { silence(); show(wall.at - 1); }
  foot();
}

function figures(on) {
  const now = figuresHere();
  for (const box of document.querySelectorAll(".figures.over")) {
    box.classList.remove("over");
    box.removeAttribute("tabindex");
    box.open = false;
  }
  if (!on || !now) return;
  now.open = true;
  now.classList.add("over");
  now.tabIndex = 0; // it is scrolled with the keys
  now.focus();
}

const over = () => document.querySelector(".figures.over");

function close() {
  figures(false);
  here().focus({ preventScroll: true });
}

function projector(on) {
  const seen = wall.slides.findIndex((slide) => slide.getBoundingClientRect().bottom > 80);
  document.body.classList.toggle("projector", on);
  dark.hidden = true;
  silence();
  if (on) {
    for (const stage of lesson.stages) stage.fresh();
    for (const box of document.querySelectorAll(".figures")) box.open = false;
    show(Math.max(seen, 0));
    document.documentElement.requestFullscreen?.().catch(() => {});
  } else {
    figures(false);
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    here().scrollIntoView();
    document.getElementById("projector").focus({ preventScroll: true });
  }
}

document.getElementById("projector").addEventListener("click", () => projector(true));
document.addEventListener("fullscreenchange", () => {
  if (!document.fullscreenElement && before()) projector(false);
});
button.addEventListener("click", next);
addEventListener("resize", foot);
// a button that was clicked with the mouse must not catch the clicker's Enter
document.addEventListener("click", (event) => {
  if (before() && event.detail && event.target.closest("button, label, summary")) here().focus({ preventScroll: true });
});

function louder(step) {
  volume.value = Number(volume.value) + step;
  volume.dispatchEvent(new Event("input"));
  tell(`Volume ${Math.round(100 * volume.value)} %`);
}

function turnLoudness() {
  const other = document.querySelector("input[name=loudness]:not(:checked)");
  if (!other) return;
  other.click();
  tell(other.value === "equal" ? "Equally loud" : "As loud as they are");
}

/** Plays what the slide has: its sound, the tube, the cell of the map. */
function play() {
  if (stageHere()?.chart) stageHere().toggle();
  else here().querySelector(".panel.shown .run, .panel.shown .again")?.click();
}

const KEYS = {
  PageDown: next, ".": next, ArrowRight: next, ArrowDown: next, Enter: next, PageUp: back, ArrowLeft: back, ArrowUp: back,
  " ": play, b: () => { dark.hidden = false; }, f: () => figures(!over()),
  l: turnLoudness, "+": () => louder(0.05), "=": () => louder(0.05), "-": () => louder(-0.05), Escape: () => projector(false),
  Home: () => show(0), End: () => show(wall.slides.length - 1),
};
// keys that a focused thing keeps for itself
const KEPT = [
  ["input[type=number]", /^(ArrowUp|ArrowDown|[0-9-]|Home|End)$/],
  ["input[type=range], input[type=radio], select, [role=application]", /^(Arrow.*|Enter| |Home|End)$/],
  ["input[type=checkbox]", /^ $/],
  ["button, summary, a[href]", /^(Enter| )$/],
];

document.addEventListener("keydown", (event) => {
  if (!before() || event.ctrlKey || event.altKey || event.metaKey) return;
  const { key, target } = event, name = key.length === 1 ? key.toLowerCase() : key;
  if (KEPT.some(([what, keys]) => target.matches?.(what) && keys.test(key)) && dark.hidden) return;
  if (over() && /^(Arrow(Up|Down)|Home|End| )$/.test(key)) return; // figures are scrolled
  if (event.repeat && KEYS[name] && !/^[+=-]$/.test(name)) { event.preventDefault(); return; }
  if (!dark.hidden && (KEYS[name] || name === "b")) dark.hidden = true;
  else if (over() && KEYS[name] && !/^[+=lb-]$/.test(name)) close();
  else if (KEYS[name]) KEYS[name]();
  else if (/^[1-4]$/.test(key)) stageHere()?.chart && stageHere().choose(Number(key) - 1);
  else return;
  event.preventDefault();
});

// ---- the second slide: one of its panels at a time

for (const slide of document.querySelectorAll(".beyond")) {
  const panels = [...slide.querySelectorAll(".panel")], tabs = [...slide.querySelectorAll(".tab")];
  const pick = (number) => {
    panels.forEach((panel, i) => panel.classList.toggle("shown", i === number));
    tabs.forEach((tab, i) => tab.setAttribute("aria-pressed", String(i === number)));
  };
  tabs.forEach((tab, i) => tab.addEventListener("click", () => pick(i)));
  pick(0);
}

// ---- paper

const PAGE_WIDTH = 700; // px, of A4 between its margins
const worksheet = document.getElementById("worksheet");
worksheet.addEventListener("change", () => document.body.classList.toggle("worksheet", worksheet.checked));
document.getElementById("print").addEventListener("click", () => print());

/** The handout has every curve, the worksheet empty axes; on the screen nothing has changed. */
function onPaper(on) {
  if (on === Boolean(paper)) return;
  paper = on ? (worksheet.checked ? "worksheet" : "handout") : "";
  for (const box of document.querySelectorAll(".figures")) {
    if (on) box.dataset.open = box.open ? "yes" : "";
    box.open = on ? paper === "handout" : box.dataset.open === "yes";
  }
  for (const stage of lesson.stages) {
    const step = stage.step;
    if (on && paper === "worksheet") stage.step = "hear";
    if (stage.chart) stage.draw(on ? PAGE_WIDTH : stage.chart.clientWidth);
    stage.step = step;
  }
}

matchMedia("print").addEventListener("change", (event) => onPaper(event.matches));
addEventListener("beforeprint", () => onPaper(true));
addEventListener("afterprint", () => onPaper(false));
