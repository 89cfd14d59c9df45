// Hands on the page: mouse, fingers, keys.

const field = by("field");
const boxOf = () => ({ width: field.clientWidth, height: field.clientHeight });
const point = (e) => {
  const at = field.getBoundingClientRect();
  set(settingAt(boxOf(), e.clientX - at.left), breathAt(boxOf(), e.clientY - at.top));
};
/** When a first press came from a finger: the browser does not yet take it for a wish to hear. */
const owes = (e) => { live.owed = e.pointerType === "touch" && !live.graph ? performance.now() : 0; };

// the first finger has lips and breath, a second one the mouth: up is higher, the field's height all of it
let first = null, second = null;
field.addEventListener("pointerdown", (e) => {
  field.setPointerCapture(e.pointerId);
  if (first !== null && e.pointerType !== "mouse") { second = { id: e.pointerId, y: e.clientY, hz: state.resonance }; return; }
  first = e.pointerId; owes(e); point(e); blow(true);
});
field.addEventListener("pointermove", (e) => {
  if (second && e.pointerId === second.id) {
    if (state.led) lead(second.hz * (HIGHEST / DEEPEST) ** ((second.y - e.clientY) / field.clientHeight));
  } else if (e.pointerId === first || (first === null && e.pointerType === "mouse" && !state.blowing)) point(e);
});
for (const end of ["pointerup", "pointercancel"]) field.addEventListener(end, (e) => {
  if (second && e.pointerId === second.id) second = null;
  else if (e.pointerId === first) { first = null; release(); }
});
const TURN = 2 ** (1 / 8); // a notch of the wheel
field.addEventListener("wheel", (e) => {
  if (!state.led) return; // it moves the page
  e.preventDefault();
  const notches = e.deltaY / (e.deltaMode === WheelEvent.DOM_DELTA_PIXEL ? 100 : 3);
  lead(state.resonance * TURN ** -Math.min(3, Math.max(-3, notches)));
}, { passive: false });

by("blow").addEventListener("pointerdown", (e) => { owes(e); blow(true); });
for (const end of ["pointerup", "pointerleave", "pointercancel"]) by("blow").addEventListener(end, () => state.blowing && release());
for (const n of HELD.numbers) {
  // a finger holds a valve down as long as it is there; a mouse has but one: it sets and lifts
  const piston = by(`piston-${n}`);
  piston.addEventListener("pointerdown", (e) => { if (e.pointerType === "touch") finger(String(n), true); });
  for (const end of ["pointerup", "pointercancel"]) piston.addEventListener(end, (e) => { if (e.pointerType === "touch") { piston.lifted = true; finger(String(n), false); } });
  piston.addEventListener("click", () => { if (piston.lifted) piston.lifted = false; else finger(String(n), !state.valves.includes(n)); });
}
if (SLIDES) by("slide").addEventListener("input", (e) => slideTo(Number(e.target.value)));
for (const key of document.querySelectorAll(".key")) {
  const name = (e) => `finger${e.pointerId}`;
  key.addEventListener("pointerdown", (e) => { owes(e); noteOn(name(e), semitoneOf(Number(key.dataset.step))); });
  for (const end of ["pointerup", "pointerleave", "pointercancel"]) key.addEventListener(end, (e) => {
    if (down.some((d) => d.key === name(e))) release(() => noteOff(name(e)));
  });
}
by("octave-down").addEventListener("click", () => octave(-1));
by("octave-up").addEventListener("click", () => octave(1));
by("start").addEventListener("click", begin);
by("keep").addEventListener("click", keep);
by("wav").addEventListener("click", keepSound);
by("clear").addEventListener("click", wipe);
by("volume").addEventListener("input", volume);
by("tube").addEventListener("change", (e) => { pick(Number(e.target.value)); home(); });
by("motion").addEventListener("change", (e) => plays({ motion: e.target.value }));
by("firm").addEventListener("change", (e) => plays({ firm: e.target.checked }));
by("led").addEventListener("change", (e) => plays({ led: e.target.checked }));
by("follow").addEventListener("change", (e) => follow(e.target.checked));
by("resonance").addEventListener("input", (e) => lead(Number(e.target.value)));

function open(on) {
  by("more").hidden = !on;
  by("more-open").setAttribute("aria-expanded", String(on));
  by(on ? "more-close" : "more-open").focus();
}
by("more-open").addEventListener("click", () => open(by("more").hidden));
by("more-close").addEventListener("click", () => open(false));

function tubeAfter() {
  const tubes = data.choices.map((c, i) => [c.group, i]).filter(([g]) => g === "tube").map(([, i]) => i);
  pick(tubes[(tubes.indexOf(state.tube) + 1) % tubes.length]); home();
}

const STEP = 2 ** (10 / 1200); // 10 cents a key press
const motionAfter = () => { const all = Object.keys(data.lips); plays({ motion: all[(all.indexOf(state.motion) + 1) % all.length] }); };
const digit = (n) => (SLIDES ? glideTo(Number(n)) : finger(n, true));
const ACTS = { // by the key's place on the keyboard, but for digits: whatever is printed on it
  ArrowRight: () => set(state.tension * STEP, state.pressure), ArrowLeft: () => set(state.tension / STEP, state.pressure),
  ArrowUp: () => set(state.tension, state.pressure + 250), ArrowDown: () => set(state.tension, state.pressure - 250),
  KeyA: () => state.led && lead(state.resonance / STEP ** 3), KeyS: () => state.led && lead(state.resonance * STEP ** 3),
  Comma: () => slideTo(state.position - 0.05), Period: () => slideTo(state.position + 0.05),
};
const ONCE = { // not while a key repeats
  KeyZ: () => octave(-1), KeyX: () => octave(1), KeyB: tubeAfter, KeyN: motionAfter, KeyF: () => follow(!state.follow),
  Escape: () => (by("more").hidden ? stop("") : open(false)),
};
const OWN = ["Enter", "Tab", "Home", "End", "PageUp", "PageDown", "ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight"];

addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  const inside = e.target instanceof HTMLSelectElement || e.target instanceof HTMLInputElement;
  if (e.key === "Enter" && e.target.type === "checkbox") { e.target.click(); return; }
  if (inside && OWN.includes(e.key)) return; // a box's own keys
  const note = e.code.startsWith("Key") ? ROW.indexOf(e.code.slice(3)) : -1;
  if (e.key === " ") { if (!e.repeat) blow(true); }
  else if (note >= 0) { if (!e.repeat) noteOn(e.code, semitoneOf(note, e.shiftKey ? 1 : 0)); }
  else if (/^Digit[1-7]$/.test(e.code)) { if (!e.repeat) digit(e.code.slice(5)); }
  else if (ONCE[e.code]) { if (!e.repeat) ONCE[e.code](); }
  else if (ACTS[e.code]) ACTS[e.code]();
  else return;
  e.preventDefault();
});
addEventListener("keyup", (e) => {
  if (e.key === " ") { e.preventDefault(); if (state.blowing) blow(false); }
  if (e.code.startsWith("Key")) noteOff(e.code);
  if (/^Digit[1-7]$/.test(e.code) && !SLIDES) finger(e.code.slice(5), false);
});
document.addEventListener("visibilitychange", () => { if (document.hidden) { letGo(); stop(words.hidden); } });
addEventListener("blur", () => { first = second = null; letGo(); if (state.blowing && !state.latch) blow(false); });
if (other) other.onmessage = () => stop(words.twice);
