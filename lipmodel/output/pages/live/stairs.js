// The staircase of every tube that was played, one over the other, and the tuner.

const MOST_TRAILS = 4, MOST_POINTS = 4000, JUMP = 60; // tubes; points of each; cents that are no line
const [PLUM, MOSS] = ["partial-1", "partial-7"].map(colour);
const STYLES = [[SOUND, []], [LIPS, [10, 5]], [PLUM, [2, 4]], [MOSS, [14, 4, 2, 4]]];
const trails = []; // { tube, label, style, points: [lips in Hz, note in Hz or null, rising, blown] }
let drawn = "";

/** The trail of a tube: its own as long as it is there, else a new one in a style that is free. */
function trailOf(tube) {
  const known = trails.find((t) => t.tube === tube);
  if (known) return known;
  if (trails.length === MOST_TRAILS) trails.shift();
  const style = STYLES.findIndex((_, i) => trails.every((t) => t.style !== i));
  trails.push({ tube, label: data.choices[tube].label, style, points: [] });
  return trails[trails.length - 1];
}

/** One more moment of the tube that sounds; null parts it from what comes next. */
function tread(tube, tension, heard) {
  const { points } = trailOf(tube), last = points[points.length - 1];
  if (last && last[0] === tension && last[1] === heard) return;
  const rising = !last || tension === last[0] ? (last ? last[2] : true) : tension > last[0];
  points.push([tension, heard, rising]);
  if (points.length > MOST_POINTS) points.shift();
}

function wipe() { trails.length = 0; drawn = ""; }

/** All trails: steps thick where lips rise, thin where they fall. */
function drawStairs(choice) {
  const key = `${trails.map((t) => [t.label, t.points.length, ...(t.points[t.points.length - 1] || [])])} ${data.choices.indexOf(choice)} ${by("stairs").clientWidth} ${by("stairs").clientHeight}`;
  if (key === drawn) return;
  drawn = key;
  const box = canvasOf("stairs"), { pen } = box, EDGE = edgeOf(box), tall = inside(box).tall;
  const heardAt = (hz) => box.height - EDGE.bottom - tall * Math.log(hz / LOW) / Math.log(HIGH * 1.2 / LOW);
  let last = Infinity;
  for (const one of choice.resonances) {
    if (one.frequency_hz < LOW || one.frequency_hz > HIGH * 1.2) continue;
    const y = heardAt(one.frequency_hz);
    lineOf(pen, [[EDGE.left, y], [box.width - EDGE.right, y]], GREY, 1, [2, 4]);
    if (last - y > 17) { words_at(pen, one.written, EDGE.left - 6, y + 5, GREY, "right"); last = y; }
  }
  axis(pen, box, words.lips_axis, "");
  let x = 6;
  for (const { label, style, points } of trails) {
    const [ink, dashes] = STYLES[style];
    lineOf(pen, [[x, 16], [x + 30, 16]], ink, 4, dashes);
    words_at(pen, label, x + 36, 22, ink);
    x += 50 + pen.measureText(label).width;
    for (const run of runsOf(points)) lineOf(pen, run.map(([f, p]) => [across(box, f), heardAt(p)]), ink, run[run.length - 1][2] ? 4 : 2, dashes);
  }
}

/** Points in runs of one direction without a jump or a silence. */
function runsOf(points) {
  const runs = [];
  let run = [];
  for (const point of points) {
    const last = run[run.length - 1];
    if (!point[1] || (last && Math.abs(cents(point[1], last[1])) > JUMP)) { if (run.length > 1) runs.push(run); run = point[1] ? [point] : []; continue; }
    if (last && last[2] !== point[2] && run.length > 1) { runs.push(run); run = [last]; }
    run.push(point);
  }
  if (run.length > 1) runs.push(run);
  return runs;
}

/** Where a note lies between its neighbours: a scale of 50 cents to either side. */
function drawTuner(hz) {
  const box = canvasOf("tuner"), { pen, width, height } = box, at = (c) => width / 2 + (width / 2 - 24) * c / 50;
  const foot = height - 22;
  for (let c = -50; c <= 50; c += 10) lineOf(pen, [[at(c), foot], [at(c), foot - (c % 50 ? 8 : 14)]], GREY, c ? 1 : 3);
  for (const c of [-50, 0, 50]) words_at(pen, c > 0 ? `+${c}` : String(c).replace("-", "−"), at(c), height - 5, GREY, "center");
  if (!hz) return;
  const off = Math.round(cents(hz, data.a4_hz * 2 ** (Math.round(12 * Math.log2(hz / data.a4_hz)) / 12)));
  lineOf(pen, [[at(off), foot], [at(off), 4]], SOUND, 7);
  words_at(pen, `${off > 0 ? "+" : off < 0 ? "−" : ""}${Math.abs(off)}`, off > 0 ? 8 : width - 8, 20, SOUND, off > 0 ? "left" : "right");
}
