// The server's time on a device whose own clock may be wrong and may sleep.
//
// Two clocks are at hand. performance.now() never jumps, but in some browsers stands still while the device sleeps.
// Date.now() goes on in sleep, but jumps when somebody (or the network) sets the clock. As long as both agree since the
// server was last heard, the first is used. When Date has run ahead, sleep is by far the likelier reason, so Date is
// believed for now and the time is in doubt until the server is heard; when it has fallen behind, it was set back.
const APART = 1000; // ms between the two that are no longer drift

export class ServerTime {
  #server = NaN;
  #perf = 0;
  #date = 0;
  /** Milliseconds believed from Date alone since the server was last heard; 0 when nothing is in doubt. */
  doubt = 0;
  /** Called after a jump was noticed, from `now()`. */
  onjump = () => {};

  /** Milliseconds since 1970 by the server's clock; NaN until it was heard once. */
  now() {
    const perf = performance.now();
    const date = Date.now();
    const steady = perf - this.#perf;
    const ahead = date - this.#date - steady;
    if (Number.isNaN(this.#server) || Math.abs(ahead) <= APART) return this.#server + steady;
    this.#set(this.#server + steady + Math.max(ahead, 0), perf, date);
    this.doubt += Math.max(ahead, 0);
    queueMicrotask(() => this.onjump());
    return this.#server;
  }

  /** Taken before a request is sent and given to `hear` with its answer. */
  mark() {
    return { perf: performance.now(), date: Date.now() };
  }

  /** Takes the server's time from an answer. False when the device slept on the way, so that the answer is too old. */
  hear(iso, mark) {
    const said = Date.parse(iso);
    const perf = performance.now();
    const date = Date.now();
    const took = perf - mark.perf;
    if (Number.isNaN(said) || Math.abs(date - mark.date - took) > APART) return false;
    const present = this.now();
    // The true time lies between what was said and that plus the way; inside it the clock on the screen is not disturbed.
    const agrees = !this.doubt && present >= said - 50 && present <= said + took + 50;
    this.#set(agrees ? present : said + took / 2, perf, date);
    this.doubt = 0;
    return true;
  }

  #set(server, perf, date) {
    this.#server = server;
    this.#perf = perf;
    this.#date = date;
  }
}
