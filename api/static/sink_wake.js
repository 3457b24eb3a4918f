// Keeps the screen lit. The browser lets go of the lock when the page is hidden, so it is asked for again on return.
export class LitScreen {
  #lock = null;
  #wanted = false;
  /** Whether the browser can keep the screen lit at all; it can on secure addresses only. */
  able = "wakeLock" in navigator;
  onchange = () => {};

  get lit() {
    return this.#lock !== null && !this.#lock.released;
  }

  /** Asks for the lock as long as it is `wanted`; to be called again when the page is seen again. */
  async keep(wanted) {
    this.#wanted = wanted;
    if (!this.able || document.visibilityState !== "visible") return;
    if (!wanted) {
      await this.#lock?.release();
      this.#lock = null;
    } else if (!this.lit) {
      try {
        this.#lock = await navigator.wakeLock.request("screen");
        this.#lock.addEventListener("release", () => this.onchange());
      } catch {
        this.#lock = null; // refused, for example with a low battery
      }
      if (!this.#wanted) await this.keep(false);
    }
    this.onchange();
  }

  /** What to tell the person, or "" while the screen is kept lit or need not be. */
  get words() {
    if (!this.#wanted || this.lit) return "";
    if (!this.able) return "This browser can't keep the screen on. Set your phone not to sleep.";
    return "The screen is not kept on just now. Set your phone not to sleep.";
  }
}
