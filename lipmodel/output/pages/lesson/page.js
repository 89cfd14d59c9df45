"use strict";
// The page of a lesson: helpers, volume, loudspeaker check, projector, paper.

const lesson = { data: JSON.parse(document.getElementById("data").textContent), takes: [], maps: [], tubes: [] };
window.lesson = lesson;

/** A colour of the page, by its name. */
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const [INK, SOUND, LIPS, GREY, PAPER] = ["ink", "sound", "lips", "air-column", "paper"].map(colour);
const still = matchMedia("(prefers-reduced-motion: reduce)");
const drawing = document.getElementById("draw").namespaceURI;
const FONT = "system-ui, sans-serif";

/** An SVG element with attributes; text, where given, is text and nothing else. */
function shape(parent, name, attributes, text) {
  const made = document.createElementNS(drawing, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
}

/** Calls `draw(width)` now, and whenever the width of `box` changes. */
function fitted(box, draw) {
  let last = 0;
  const look = () => {
    const width = Math.round(box.clientWidth), now = `${width} ${before() ? innerHeight : 0}`;
    if (width > 0 && now !== last) { last = now; draw(width); }
  };
  new ResizeObserver(look).observe(box);
  look();
}

/** A canvas of `width` by `height` px, sharp on every screen; its drawing context. */
function sharp(canvas, width, height) {
  const more = Math.max(1, devicePixelRatio || 1);
  canvas.width = Math.round(width * more);
  canvas.height = Math.round(height * more);
  canvas.style.height = `${height}px`;
  const pen = canvas.getContext("2d");
  pen.setTransform(more, 0, 0, more, 0, 0);
  return pen;
}

const before = () => document.body.classList.contains("projector"); // before a class

/** Height for a drawing of this width; `tall`: its share of the screen before a class. */
function heightFor(width, share, tall) {
  if (before()) return Math.max(220, Math.round(innerHeight * tall));
  return Math.round(Math.min(Math.max(width * share, 260), 560));
}

const letters = (width) => (width < 520 ? 14 : width < 900 ? 17 : before() ? 26 : 20);
const signed = (value) => (Math.round(value) > 0 ? "+" : Math.round(value) < 0 ? "−" : "") + Math.abs(Math.round(value));

// ---- sound

const volume = document.getElementById("volume");
const told = document.getElementById("told");
let context = null, master = null;

/** The page's one audio context, made at the first touch as browsers demand. */
function audio() {
  if (!context) {
    context = new AudioContext();
    master = context.createGain();
    master.gain.value = loudness();
    master.connect(context.destination);
  }
  if (context.state === "suspended") context.resume();
  return context;
}

const loudness = () => Number(volume.value) ** 2; // even steps to the ear, nearly
const players = new Set(); // functions that stop what sounds
function silence(except) { for (const stop of players) if (stop !== except) stop(); }

volume.addEventListener("input", () => {
  if (master) master.gain.value = loudness();
  for (const take of lesson.takes) take.loud();
});

/** How far a sound is turned down: to be as loud as the others, or as it was when it was played. */
function turned(box) {
  const chosen = document.querySelector("input[name=loudness]:checked")?.value ?? "equal";
  return 10 ** (-Number(box.dataset[chosen]) / 20);
}

for (const choice of document.querySelectorAll("input[name=loudness]")) {
  choice.addEventListener("change", () => { for (const take of lesson.takes) take.loud(); });
}

document.getElementById("tone").addEventListener("click", () => {
  silence();
  const now = audio().currentTime + 0.02, source = context.createOscillator(), gain = context.createGain();
  source.frequency.value = 440;
  gain.gain.setValueAtTime(0, now);
  gain.gain.linearRampToValueAtTime(0.1, now + 0.05);
  gain.gain.setValueAtTime(0.1, now + 0.9);
  gain.gain.linearRampToValueAtTime(0, now + 1);
  source.connect(gain).connect(master);
  source.start(now);
  source.stop(now + 1);
  told.textContent = "A quiet tone of 440 Hz for one second. Set the volume now.";
  setTimeout(() => { told.textContent = ""; }, 4000);
});

// ---- projector

const dark = document.getElementById("dark");
const slides = () => [...document.querySelectorAll(".slide")];
let at = 0;

function show(number, focus = true) {
  const all = slides();
  at = Math.min(Math.max(number, 0), all.length - 1);
  for (const slide of all) slide.classList.toggle("now", slide === all[at]);
  all[at].tabIndex = -1;
  if (focus) all[at].focus({ preventScroll: true });
  scrollTo(0, 0);
  document.body.dataset.slide = `${at + 1} / ${all.length}`;
}

function projector(on) {
  const all = slides();
  const seen = all.findIndex((slide) => slide.getBoundingClientRect().bottom > 80);
  document.body.classList.toggle("projector", on);
  dark.hidden = true;
  if (on) {
    show(Math.max(seen, 0));
    document.documentElement.requestFullscreen?.().catch(() => {});
  } else {
    silence();
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    all[at]?.scrollIntoView();
    document.getElementById("projector").focus({ preventScroll: true });
  }
}

document.getElementById("projector").addEventListener("click", () => projector(true));
document.addEventListener("fullscreenchange", () => {
  if (!document.fullscreenElement && before()) projector(false);
});

document.addEventListener("keydown", (event) => {
  if (!before() || event.ctrlKey || event.altKey || event.metaKey) return;
  const own = event.target.matches?.("input, select, [role=application]");
  const step = { PageDown: 1, PageUp: -1, ...(own ? {} : { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }) }[event.key];
  if (event.key === "b" || event.key === "B" || event.key === ".") dark.hidden = !dark.hidden;
  else if (!dark.hidden && event.key !== "Escape") dark.hidden = true;
  else if (step) { silence(); show(at + step); }
  else if (event.key === "Home" && !own) show(0);
  else if (event.key === "End" && !own) show(slides().length - 1);
  else if (event.key === "Escape") projector(false);
  else return;
  event.preventDefault();
});

// ---- paper

const worksheet = document.getElementById("worksheet");
worksheet.addEventListener("change", () => document.body.classList.toggle("worksheet", worksheet.checked));
document.getElementById("print").addEventListener("click", () => print());
