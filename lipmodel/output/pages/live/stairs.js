// The staircase of every tube that was played, one over the other, and the tuner.

const MOST_TRAILS = 4, MOST_POINTS = 4000; // tubes; points of each
const JUMP = 60, LEAP = 250; // cents of the note, and of the lips, that are no line
const [PLUM, MOSS] = ["partial-1", "partial-7"].map(colour);
const STYLES = [[SOUND, []], [LIPS, [10, 5]], [PLUM, [2, 4]], [MOSS, [14, 4, 2, 4]]];
const trails = []; // { tube, label, style, points: [lips in Hz, note in Hz or null, rising, blown] }
let drawn = ""; // what lies under the trails now

/** The trail of a tube: its own as long as it is there, else a new one in a style that is free. */
function trailOf(tube) {
  const known = trails.find((t) => t.tube === tube);
  if (known) return known;
  if (trails.length === MOST_TRAILS) trails.shift();
  const style = STYLES.findIndex((_, i) => trails.every((t) => t.style !== i));
  trails.push({ tube, label: data.choices[tube].label, style, points: [], shown: 0, along: 0 });
  return trails[trails.length - 1];
}

/** One more moment of the tube that sounds; null parts it from what comes next. */
function tread(tube, tension, heard) {
  const { points } = trailOf(tube), last = points[points.length - 1];
  if (last && last[0] === tension && last[1] === heard) return;
  const rising = !last || tension === last[0] ? (last ? last[2] : true) : tension > last[0];
  points.push([tension, heard, rising]);
  if (points.length > MOST_POINTS) { points.splice(0, MOST_POINTS / 2); drawn = ""; }
}

function wipe() { trails.length = 0; drawn = ""; }

/** All trails: steps thick where lips rise, thin where they fall. What is drawn stays; a picture
 * adds what is new. */
function drawStairs(choice) {
  const canvas = by("stairs"), key = [...trails.map((t) => t.label), data.choices.indexOf(choice), canvas.clientWidth, canvas.clientHeight].join();
  if (key !== drawn) floorOf(choice);
  drawn = key;
  const pen = canvas.getContext("2d"), box = { width: canvas.clientWidth, height: canvas.clientHeight };
  for (const trail of trails) while (trail.shown < trail.points.length) footstep(pen, box, trail);
}

const heightOf = (box, hz) => inside(box).low - inside(box).tall * Math.log(hz / LOW) / Math.log(HIGH * 1.2 / LOW);

/** What lies under the trails: notes of the tube, axis, names; the trails are to be drawn anew. */
function floorOf(choice) {
  const box = canvasOf("stairs"), { pen } = box, EDGE = edgeOf(box);
  let last = Infinity, x = 6;
  for (const one of choice.resonances) {
    if (one.frequency_hz < LOW || one.frequency_hz > HIGH * 1.2) continue;
    const y = heightOf(box, one.frequency_hz);
    lineOf(pen, [[EDGE.left, y], [box.width - EDGE.right, y]], GREY, 1, [2, 4]);
    if (last - y > 17) { words_at(pen, one.written, EDGE.left - 6, y + 5, GREY, "right"); last = y; }
  }
  axis(pen, box, words.lips_axis, "");
  for (const trail of trails) {
    const [ink, dashes] = STYLES[trail.style];
    trail.shown = trail.along = 0;
    lineOf(pen, [[x, 16], [x + 30, 16]], ink, 4, dashes);
    words_at(pen, trail.label, x + 36, 22, ink);
    x += 50 + pen.measureText(trail.label).width;
  }
}

/** The next piece of a trail, none over a jump or a silence; dashes go on over pieces. */
function footstep(pen, box, trail) {
  const [ink, dashes] = STYLES[trail.style], now = trail.points[trail.shown], last = trail.points[trail.shown - 1];
  trail.shown += 1;
  if (!last || !last[1] || !now[1] || Math.abs(cents(now[1], last[1])) > JUMP || Math.abs(cents(now[0], last[0])) > LEAP) return;
  const [a, b] = [last, now].map(([f, p]) => [across(box, f), heightOf(box, p)]);
  pen.lineDashOffset = trail.along; pen.lineCap = dashes.length ? "butt" : "round";
  lineOf(pen, [a, b], ink, now[2] ? 4 : 2, dashes);
  pen.lineDashOffset = 0; pen.lineCap = "butt";
  trail.along += Math.hypot(b[0] - a[0], b[1] - a[1]);
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
