"use strict";
// Sound of the live horn: the audio graph, what is heard of it, and its pitch.

const data = JSON.parse(document.getElementById("data").textContent);
const words = data.words;
const CEILING = 0.5, SCALE = 1 / 12; // of full scale; 12 Pa (116 dB at 1 m) come near the ceiling
const NOTES = data.spelling === "sharps"
  ? ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]
  : ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];

/** The audio graph at data.rates[which], not started; `context` may be an offline one.
 * `score`: [[s, message for the horn], ...], for an offline one. */
async function makeGraph(context, which, score = []) {
  // a page opened from a folder may load its worklet from a data address, but not from a blob
  await context.audioWorklet.addModule(`data:text/javascript;charset=utf-8,${encodeURIComponent(data.worklet)}`);
  const node = new AudioWorkletNode(context, "live-horn", {
    numberOfInputs: 0, numberOfOutputs: 2, outputChannelCount: [1, 1],
    processorOptions: {
      loops: data.choices.map((c) => c.loops[which]), lips: data.lips, motion: "both",
      mouth: data.mouth.air, scale: SCALE, ceiling: CEILING, score,
    },
  });
  const volume = context.createGain();
  node.connect(volume, 0);
  volume.connect(context.destination);
  const inside = context.createAnalyser(), outside = context.createAnalyser();
  inside.fftSize = 4096; outside.fftSize = 4096;
  node.connect(inside, 1);
  node.connect(outside, 0);
  return { context, node, volume, inside, outside, tension: node.parameters.get("tension"), pressure: node.parameters.get("pressure"), resonance: node.parameters.get("resonance") };
}

const EVERY = 4; // of the samples, in the first look for a pitch

/** Sum of the squared difference at a lag over every `by`-th of `half` samples, times `by`. */
function difference(samples, lag, half, by) {
  let total = 0;
  for (let i = 0; i < half; i += by) { const step = samples[i] - samples[i + lag]; total += step * step; }
  return total * by;
}

/** Pitch in Hz of `samples`, or null: the first deep dip of the squared difference (A. de
 * Cheveigne and H. Kawahara, J. Acoust. Soc. Am. 111, 1917 (2002)), found with a part of the
 * samples, then looked at with all, refined by a parabola. */
function pitchOf(samples, rate, lowest = 50, highest = 1800) {
  const half = samples.length >> 1, longest = Math.min(half - 2, Math.floor(rate / lowest));
  let power = 0, mean = 0;
  for (let i = 0; i < samples.length; i++) mean += samples[i];
  mean /= samples.length;
  for (let i = 0; i < samples.length; i++) power += (samples[i] - mean) ** 2;
  if (Math.sqrt(power / samples.length) < 2e-4) return null; // 20 Pa in the mouthpiece
  const shortest = Math.max(2, Math.floor(rate / highest));
  const d = pitchOf.room && pitchOf.room.length > longest + 1 ? pitchOf.room : (pitchOf.room = new Float64Array(longest + 2));
  let sum = 0;
  for (let lag = 1; lag <= longest + 1; lag++) {
    const total = difference(samples, lag, half, EVERY);
    sum += total;
    d[lag] = sum > 0 ? total * lag / sum : 1;
  }
  for (let lag = shortest; lag <= longest; lag++) {
    if (d[lag] < 0.15 && d[lag] <= d[lag + 1] && d[lag] <= d[lag - 1]) {
      const near = [-2, -1, 0, 1, 2].map((step) => difference(samples, lag + step, half, 1));
      const i = near.indexOf(Math.min(near[1], near[2], near[3])), [a, b, c] = near.slice(i - 1, i + 2), bend = a - 2 * b + c;
      return rate / (lag + i - 2 + (bend > 0 ? 0.5 * (a - c) / bend : 0));
    }
  }
  return null;
}

const cents = (a, b) => 1200 * Math.log2(a / b);

/** Name of the equal-tempered note nearest to `hz`, some semitones up. */
function noteName(hz, up = 0) {
  const semitone = Math.round(12 * Math.log2(hz / data.a4_hz)) + 57 + up;
  return NOTES[((semitone % 12) + 12) % 12] + Math.floor(semitone / 12);
}

/** dB of the greatest value under full scale. */
function peakOf(samples) {
  let most = 0;
  for (let i = 0; i < samples.length; i++) most = Math.max(most, Math.abs(samples[i]));
  return 20 * Math.log10(Math.max(most, 1e-6));
}
