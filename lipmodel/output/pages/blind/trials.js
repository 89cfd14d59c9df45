"use strict";
// Blind listening: three sounds on one clock, X is A or B.  Which, follows from the seed and the
// listener's code (listening.py has the same lines); nothing in the page says so beforehand.

// ---- chance: the same numbers on every machine

/** 128 bits of a text as four numbers. */
function digest(text) {
  let h = [1779033703, 3144134277, 1013904242, 2773480762];
  const by = [597399067, 2869860233, 951274213, 2716044179];
  for (let at = 0; at < text.length; at++) {
    const unit = text.charCodeAt(at);
    h = h.map((v, i) => Math.imul(v ^ unit, by[i]) >>> 0);
  }
  return h.map((v) => {
    v = Math.imul(v ^ (v >>> 16), 0x85ebca6b);
    v = Math.imul(v ^ (v >>> 13), 0xc2b2ae35);
    return (v ^ (v >>> 16)) >>> 0;
  });
}

const seal = (text) => digest(text).map((v) => v.toString(16).padStart(8, "0")).join("");

/** A function that gives even numbers from 0 to 1, one after another. */
function chances(text) {
  let [a, b, c, d] = digest(text);
  return () => {
    const t = (a + b + d) >>> 0;
    d = (d + 1) >>> 0;
    a = (b ^ (b >>> 9)) >>> 0;
    b = (c + (c << 3)) >>> 0;
    c = ((c << 21) | (c >>> 11)) >>> 0;
    c = (c + t) >>> 0;
    return t / 2 ** 32;
  };
}

function shuffled(items, chance) {
  const made = [...items];
  for (let i = made.length - 1; i > 0; i--) {
    const j = Math.floor(chance() * (i + 1));
    [made[i], made[j]] = [made[j], made[i]];
  }
  return made;
}

const catches = (count) => Math.round(count / 5);

/** The trials of a session: numbers of the sounds called A and B; x is 0 where X is A. */
function trialsOf(sounds, count, seed, code) {
  const chance = chances(`${seed}/${code}/${count}`);
  for (let i = 0; i < 20; i++) chance();
  const pairs = [], drawn = [];
  for (let a = 0; a < sounds; a++) for (let b = a + 1; b < sounds; b++) pairs.push([a, b]);
  while (drawn.length < count) drawn.push(...shuffled(pairs, chance));
  const whole = drawn.slice(0, count).map(([a, b]) => [a, b, false]);
  for (let i = 0; i < catches(count); i++) {
    const same = Math.floor(chance() * sounds);
    whole.push([same, same, true]);
  }
  return shuffled(whole, chance).map(([a, b, same]) => {
    const turned = chance() < 0.5, x = chance() < 0.5 ? 1 : 0;
    return { a: turned ? b : a, b: turned ? a : b, x, catch: same };
  });
}

// ---- what a score says

/** Chance of `right` or more of `count` where each is right with probability `share`. */
function tail(right, count, share) {
  let ways = 1, sum = 0;
  for (let k = 0; k <= count; k++) {
    if (k >= right) sum += ways * share ** k * (1 - share) ** (count - k);
    ways = (ways * (count - k)) / (k + 1);
  }
  return Math.min(sum, 1);
}

/** The share at which `rising` (a rising function of it) reaches `level`. */
function reached(rising, level) {
  let low = 0, high = 1;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (rising(middle) < level) low = middle; else high = middle;
  }
  return (low + high) / 2;
}

/** 95 % interval of the share of right answers (Clopper and Pearson, Biometrika 26, 1934). */
function interval(right, count) {
  const low = right === 0 ? 0 : reached((share) => tail(right, count, share), 0.025);
  const high = right === count ? 1 : reached((share) => tail(right + 1, count, share), 0.975);
  return [low, high];
}

// ---- sound: all on one clock, one of them heard

const FADE = 0.01; // s from one sound to another

/** A gain that goes to its next value in a straight line of 10 ms, one line after another. */
class Fader {
  constructor(context) {
    this.node = context.createGain();
    this.node.gain.value = this.to = this.free = 0;
  }
  /** Begins at `time`, or where the line before ends: a line cut short would click. */
  go(to, time) {
    const begin = Math.max(time, this.free), gain = this.node.gain;
    gain.setValueAtTime(this.to, begin);
    gain.linearRampToValueAtTime(to, begin + FADE);
    this.to = to;
    this.free = begin + FADE;
  }
}

/** `buffers` started together at `time` and looped; none is heard until `hear(number, time)`. */
class Deck {
  constructor(context, output, buffers, time) {
    this.faders = buffers.map(() => new Fader(context));
    this.sources = buffers.map((buffer, i) => {
      const source = context.createBufferSource();
      Object.assign(source, { buffer, loop: true });
      source.connect(this.faders[i].node).connect(output);
      source.start(time);
      return source;
    });
  }
  hear(number, time) {
    this.faders.forEach((fader, i) => fader.go(i === number ? 1 : 0, time));
  }
  stop(time) {
    this.hear(-1, time);
    this.sources.forEach((source, i) => source.stop(this.faders[i].free));
  }
}

window.blind = { digest, seal, chances, trialsOf, catches, tail, interval, Deck, FADE };
