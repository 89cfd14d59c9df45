"use strict";
// The page of a lesson: helpers, volume, loudspeaker check.

const lesson = { data: JSON.parse(document.getElementById("data").textContent), stages: [], maps: [], tubes: [] };
window.lesson = lesson;

/** A colour of the page, by its name. */
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const [INK, SOUND, LIPS, AIR, PAPER] = ["ink", "sound", "lips", "air-column", "paper"].map(colour);
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

/** Calls `draw(width)` now, and whenever the size of `box` changes; before a class `box` fills
 *  what its slide leaves free, so that its height counts too. */
function fitted(box, draw) {
  let last = 0;
  const look = () => {
    const width = Math.round(box.clientWidth), now = `${width} ${before() ? box.clientHeight : ""}`;
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

let paper = ""; // "handout" or "worksheet" while it is printed
const before = () => !paper && document.body.classList.contains("projector"); // before a class

/** Height for a drawing of this width in `box`: before a class what its slide leaves free. */
function heightFor(box, width, share) {
  if (before()) return Math.max(60, box.clientHeight);
  return Math.round(Math.min(Math.max(width * share, 260), 560));
}

/** Size of the letters in a drawing, px: before a class by the height of the wall. */
const letters = (width) => (before() ? Math.max(18, Math.round(innerHeight * 0.031)) : width < 520 ? 14 : width < 900 ? 17 : 20);
const signed = (value) => (Math.round(value) > 0 ? "+" : Math.round(value) < 0 ? "−" : "") + Math.abs(Math.round(value));

// ---- sound

const volume = document.getElementById("volume");
const told = document.getElementById("told");
let context = null, master = null, telling = 0;

/** A line of words, for four seconds. */
function tell(text) {
  told.textContent = text;
  clearTimeout(telling);
  telling = setTimeout(() => { told.textContent = ""; }, 4000);
}

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

volume.addEventListener("input", () => { if (master) master.gain.value = loudness(); });

/** Which loudness is chosen: "equal", or "real" where sounds are as loud as they were played. */
const chosenLoudness = () => document.querySelector("input[name=loudness]:checked")?.value ?? "equal";

for (const choice of document.querySelectorAll("input[name=loudness]")) {
  choice.addEventListener("change", () => { for (const stage of lesson.stages) stage.voices.level(); });
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
  tell("A quiet tone of 440 Hz for one second. Set the volume now.");
});
