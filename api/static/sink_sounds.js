// Sounds and vibration for the cues. Each cue has a rhythm of its own, so that it is known without looking.
const TUNES = {
  // [frequency in Hz, start in s, length in s]
  agitate: [[660, 0, 0.16], [880, 0.2, 0.22]],
  rest: [[440, 0, 0.22]],
  pour: [[880, 0, 0.14], [880, 0.24, 0.14], [660, 0.48, 0.4]],
  end: [[990, 0, 0.2], [740, 0.22, 0.2], [990, 0.44, 0.2], [740, 0.66, 0.5]],
};
const SHAKES = { agitate: [150, 80, 150], rest: [80], pour: [200, 100, 200, 100, 400], end: [500, 150, 500] };
const PLACE = "stripleaf sink sound";

export class Sounds {
  #context = null;
  #on = true;

  constructor() {
    try {
      this.#on = localStorage.getItem(PLACE) !== "off";
    } catch {
      // Not remembered: sound stays on.
    }
  }

  get on() {
    return this.#on;
  }

  set on(on) {
    this.#on = on;
    try {
      localStorage.setItem(PLACE, on ? "on" : "off");
    } catch {
      // Not remembered.
    }
  }

  /** Whether a cue would be heard now; browsers keep sound back until the page is touched. */
  get ready() {
    return this.#context?.state === "running";
  }

  /** To be called from a touch or a key. */
  async wake() {
    if (!("AudioContext" in window)) return;
    this.#context ??= new AudioContext();
    if (this.#context.state !== "running") await this.#context.resume().catch(() => {});
  }

  cue(what) {
    if (!this.#on) return;
    // A browser that was never touched refuses to shake as well; it would only fill its log.
    if (navigator.userActivation?.hasBeenActive !== false) navigator.vibrate?.(SHAKES[what]);
    if (!this.ready) return;
    const begin = this.#context.currentTime + 0.02;
    for (const [frequency, at, length] of TUNES[what]) {
      const tone = this.#context.createOscillator();
      const loudness = this.#context.createGain();
      tone.type = "triangle";
      tone.frequency.value = frequency;
      // Swelling and fading a little, because a tone cut hard clicks.
      loudness.gain.setValueAtTime(0, begin + at);
      loudness.gain.linearRampToValueAtTime(0.6, begin + at + 0.015);
      loudness.gain.setValueAtTime(0.6, begin + at + length - 0.04);
      loudness.gain.linearRampToValueAtTime(0, begin + at + length);
      tone.connect(loudness).connect(this.#context.destination);
      tone.start(begin + at);
      tone.stop(begin + at + length);
    }
  }
}
