// The horn on the audio thread.  Everything is made before the first sound; `process` allocates
// nothing.  Written after time_loop.js.

const FADE = 0.05, RISE = 0.02; // s: one tube into another, and breath after a switch
const TOWARDS = 0.7; // of the way that lips and breath go in one quantum (2.7 ms at 48 kHz)
const DIP = 0.01; // s in which the sound sinks before the lips begin to move in another way

class LiveHorn extends AudioWorkletProcessor {
  static get parameterDescriptors() {
    return [
      { name: "tension", defaultValue: 300, minValue: 20, maxValue: 2000, automationRate: "k-rate" },
      { name: "pressure", defaultValue: 0, minValue: 0, maxValue: 40000, automationRate: "k-rate" },
      { name: "resonance", defaultValue: 500, minValue: 100, maxValue: 2000, automationRate: "k-rate" },
    ];
  }

  constructor(options) {
    super();
    const { loops, lips, motion, mouth, scale, ceiling, score } = options.processorOptions;
    this.score = score || []; this.scored = 0; this.samples = 0;
    this.lips = lips; this.mouth = mouth;
    for (const name of Object.keys(lips)) lips[name].floats = floats(lips[name].constants);
    // valves and slide lengthen lines of a tube's own horn
    this.tubes = loops.map((loop) => loop.of === undefined
      ? { horn: makeHorn(loop, lips[motion]), tap: floats(loop.tap), travel: loop.travel_s }
      : { of: loop.of, tap: floats(loop.tap), travel: loop.travel_s });
    for (const tube of this.tubes) if (!tube.horn) tube.horn = this.tubes[tube.of].horn;
    this.tube = this.tubes[0];
    this.now = this.tube.horn; this.before = this.now; this.fading = 0; this.rising = 0;
    this.dip = 0; this.motion = null; this.led = false;
    this.scale = scale; this.ceiling = ceiling;
    this.tension = 0; this.pressure = 0; this.resonance = 0; this.firm = 1; this.quanta = 0; this.spent = 0; this.told = false;
    this.port.onmessage = ({ data }) => this.change(data);
  }

  change({ tube, tap, travel_s, motion, mouth, firm }) {
    const to = this.tubes[tube];
    if (to && to !== this.tube && to.horn === this.now) {
      moveTo(this.now, to.tap, Math.floor((to.travel || this.tube.travel) * sampleRate));
      this.tube = to;
    } else if (to && to !== this.tube) {
      this.before = this.now;
      this.tube = to; this.now = to.horn;
      this.now.motion = this.before.motion; this.now.c = this.before.c; this.now.law = this.before.law;
      this.now.mouth = this.before.mouth; this.now.firm = this.before.firm;
      rest(this.now); setTap(this.now, to.tap);
      this.fading = Math.round(FADE * sampleRate); this.rising = 0;
    }
    // a slide between two of its places: the lines follow the hand in short fades
    if (tap) moveTo(this.now, floats(tap), Math.floor(travel_s * sampleRate));
    if (firm !== undefined) for (const { horn } of this.tubes) horn.firm = firm;
    if (motion !== undefined && this.lips[motion]) this.motion = this.lips[motion];
    else if (mouth === undefined || mouth === this.led) return;
    if (mouth !== undefined) this.led = mouth;
    this.dip = Math.round(DIP * sampleRate);
  }

  /** Lips that move in another way, a mouth that comes or goes: from rest, once the sound has sunk. */
  otherPlayer() {
    for (const horn of [this.now, this.before]) {
      if (this.motion) { horn.motion = this.motion.motion; horn.c = this.motion.floats; horn.law = this.motion.law; }
      horn.mouth = this.led ? this.mouth : null;
    }
    rest(this.now); this.rising = 0; this.fading = 0; this.motion = null;
  }

  process(inputs, outputs, parameters) {
    const began = Date.now();
    while (this.scored < this.score.length && this.score[this.scored][0] * sampleRate <= this.samples) this.change(this.score[this.scored++][1]);
    this.samples += outputs[0][0].length;
    const sound = outputs[0][0], inside = outputs[1][0], count = sound.length;
    const from = this.tension || parameters.tension[0];
    const to = from + TOWARDS * (parameters.tension[0] - from);
    const breathFrom = this.pressure, breathTo = breathFrom + TOWARDS * (parameters.pressure[0] - breathFrom);
    const hzFrom = this.resonance || parameters.resonance[0], hzTo = hzFrom + TOWARDS * (parameters.resonance[0] - hzFrom);
    const law = this.now.law, firmFrom = this.firm, firmTo = firmness(this.now, breathTo, to);
    const d0 = quality(law, from), d1 = quality(law, to);
    const fade = FADE * sampleRate, rise = RISE * sampleRate;
    for (let i = 0; i < count; i++) {
      const part = (i + 1) / count;
      const tension = from + part * (to - from), breath = breathFrom + part * (breathTo - breathFrom);
      const damping = d0 + part * (d1 - d0);
      const firm = firmFrom + part * (firmTo - firmFrom), hz = hzFrom + part * (hzTo - hzFrom);
      if (this.now.mouth) mouthAt(this.now, hz);
      const begun = this.rising < rise ? this.rising++ / rise : 1;
      if (!oneSample(this.now, begun * breath, tension, damping, firm)) { rest(this.now); this.rising = 0; }
      let value = heard(this.now);
      if (this.fading > 0) {
        const share = this.fading-- / fade;
        if (this.before.mouth) mouthAt(this.before, hz);
        if (!oneSample(this.before, share * breath, tension, damping, firm)) rest(this.before);
        value = (1 - share) * value + share * heard(this.before);
      }
      if (this.dip > 0) {
        value *= this.dip / (DIP * sampleRate);
        if (--this.dip === 0) this.otherPlayer();
      }
      const limited = this.ceiling * Math.tanh(value * this.scale / this.ceiling);
      sound[i] = limited === limited ? limited : 0;
      inside[i] = this.now.pressure * 1e-5;
    }
    this.tension = to; this.pressure = breathTo; this.resonance = hzTo; this.firm = firmTo;
    this.spent += Date.now() - began;
    if (++this.quanta >= 400) {
      // more than four fifths of the time there is
      if (!this.told && this.spent > 800 * this.quanta * count / sampleRate) {
        this.told = true;
        this.port.postMessage("slow");
      }
      this.quanta = 0; this.spent = 0;
    }
    return true;
  }
}

registerProcessor("live-horn", LiveHorn);
