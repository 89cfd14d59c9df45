// The sounds of one section on one clock, one of them heard: switched without a break.

const SWITCH = 0.02; // s from one sound to another
const SOON = 0.03; // s

class Voices {
  /** `elements`: the audio elements of the section, which keep their bytes. */
  constructor(elements) {
    this.elements = elements;
    this.chosen = 0;
    this.at = 0; // s, where it stands while nothing sounds
    this.sources = [];
    this.running = false;
  }

  decode() {
    this.loaded ??= Promise.all(this.elements.map((e) => audio().decodeAudioData(bytesOf(e.src.split(",")[1]))));
    return this.loaded;
  }

  /** Seconds from the beginning, of what is heard now. */
  get time() {
    if (!this.running) return this.at;
    return Math.max(0, Math.min(context.currentTime - this.began, this.length));
  }

  /** Gain of sound `i`: none but that of the chosen one is over 0. */
  gainOf(i) {
    return i === this.chosen ? 10 ** (-Number(this.elements[i].dataset[chosenLoudness()]) / 20) : 0;
  }

  async start(ended) {
    audio();
    this.halt();
    const mine = (this.wanted = {}), buffers = await this.decode();
    if (this.wanted !== mine) return false; // stopped meanwhile
    this.length = Math.max(...buffers.map((b) => b.duration));
    if (this.at > this.length - 0.05) this.at = 0;
    const when = context.currentTime + SOON;
    this.began = when - this.at;
    this.running = true;
    this.sources = buffers.map((buffer, i) => {
      const source = context.createBufferSource(), gain = context.createGain();
      source.buffer = buffer;
      gain.gain.setValueAtTime(this.gainOf(i), when);
      source.connect(gain).connect(master);
      source.start(when, Math.min(this.at, buffer.duration));
      return { source, gain };
    });
    const longest = buffers.findIndex((b) => b.duration === this.length);
    this.sources[longest].source.onended = () => {
      if (this.wanted !== mine) return;
      this.halt();
      this.at = 0;
      ended();
    };
    return true;
  }

  /** New gains, in a straight line of SWITCH s. */
  level() {
    if (!this.running) return;
    const now = context.currentTime;
    this.sources.forEach(({ gain }, i) => {
      gain.gain.cancelScheduledValues(now);
      gain.gain.setValueAtTime(gain.gain.value, now);
      gain.gain.linearRampToValueAtTime(this.gainOf(i), now + SWITCH);
    });
  }

  choose(number) {
    this.chosen = number;
    this.level();
  }

  halt() {
    this.at = this.time;
    this.wanted = null;
    this.running = false;
    for (const { source, gain } of this.sources) {
      gain.gain.cancelScheduledValues(0);
      gain.gain.setTargetAtTime(0, context.currentTime, 0.008);
      source.stop(context.currentTime + 0.06);
    }
    this.sources = [];
  }
}

function bytesOf(text) {
  const raw = atob(text), bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
  return bytes.buffer;
}
