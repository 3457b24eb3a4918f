// What is known at the sink: the session as the server has it, and the entries of this device that it has not got yet.
//
// Entries wait in localStorage and are sent in their order, one at a time; each has a key of its own, so that one sent
// twice counts once. An entry the server refuses is set aside with the server's sentence and never dropped unseen.
const AGAIN = 5000; // ms until the next try when the server can't be reached
const PATIENCE = 10000; // ms a request may take

function newKey() {
  // crypto.randomUUID exists on secure addresses only, and a phone reaches the archive by a plain one.
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export class Entries {
  #log;
  #source;
  #time;
  #place;
  #held = { waiting: [], refused: [] }; // used when the browser keeps nothing
  #busy = false;
  #timer = 0;
  /** The session as last heard from the server, or null. */
  session = null;
  reachable = true;
  onchange = () => {};

  constructor(source, log, time) {
    this.#source = source;
    this.#log = log;
    this.#time = time;
    this.#place = `stripleaf sink ${log}`;
  }

  #read() {
    try {
      const kept = JSON.parse(localStorage.getItem(this.#place));
      if (kept && Array.isArray(kept.waiting) && Array.isArray(kept.refused)) return kept;
      return { waiting: [], refused: [] };
    } catch {
      return this.#held;
    }
  }

  // Always from what is kept, because the same session may be open in a second tab.
  #change(change) {
    const kept = this.#read();
    change(kept);
    this.#held = kept;
    try {
      localStorage.setItem(this.#place, JSON.stringify(kept));
    } catch {
      // Held until the page is closed; it is sent as soon as the server is there.
    }
  }

  get waiting() {
    return this.#read().waiting;
  }

  get refused() {
    return this.#read().refused;
  }

  /** All entries in order, those not sent yet included. */
  get log() {
    let log = [...(this.session?.log ?? [])];
    for (const { op, fact } of this.waiting) {
      if (op === "back") log = log.filter((one) => one.key !== fact.key);
      else if (!log.some((one) => one.key === fact.key)) log.push(fact);
    }
    return log;
  }

  /** Writes an entry down with the server's time of now, and sends it when that can be done. */
  write(step, what, value = null) {
    const fact = { key: newKey(), step, what, at: new Date(this.#time.now()).toISOString(), value };
    this.#change((kept) => kept.waiting.push({ op: "add", fact }));
    this.onchange();
    this.send();
  }

  /** Takes the last entry back. An entry on its way may have arrived, so its removal is sent behind it. */
  takeBack() {
    const fact = this.log.at(-1);
    if (!fact) return;
    this.#change((kept) => kept.waiting.push({ op: "back", fact }));
    this.onchange();
    this.send();
  }

  strikeRefused() {
    this.#change((kept) => (kept.refused = []));
    this.onchange();
  }

  /** Sends what waits, in order, or asks for the session when nothing does. */
  async send() {
    if (this.#busy) return;
    this.#busy = true;
    clearTimeout(this.#timer);
    this.reachable = await this.#sendAll();
    this.#busy = false;
    if (!this.reachable || this.waiting.length || !this.session) this.#timer = setTimeout(() => this.send(), AGAIN);
    this.onchange();
  }

  async #sendAll() {
    const first = this.waiting[0];
    if (!first) return this.#ask("GET", this.#source);
    for (let next = first; next; next = this.waiting[0]) {
      const { op, fact } = next;
      const reached =
        op === "add"
          ? await this.#ask("POST", this.#log, fact)
          : await this.#ask("DELETE", `${this.#log}/${encodeURIComponent(fact.key)}`);
      if (!reached) return false;
      const sentence = this.#refusal;
      const gone = op === "back" && this.#status === 404;
      this.#change((kept) => {
        kept.waiting = kept.waiting.filter((one) => one.op !== op || one.fact.key !== fact.key);
        if (sentence && !gone) kept.refused.push({ op, fact, sentence });
      });
      if (sentence && !(await this.#ask("GET", this.#source))) return false;
      this.onchange();
    }
    return true;
  }

  #refusal = "";
  #status = 0;

  // True when the server answered for good: with the session, or with a refusal that trying again would not change.
  async #ask(method, address, body) {
    const mark = this.#time.mark();
    this.#refusal = "";
    try {
      const answer = await fetch(address, {
        method,
        headers: { accept: "application/json", ...(body ? { "content-type": "application/json" } : {}) },
        body: body ? JSON.stringify(body) : undefined,
        cache: "no-store",
        signal: AbortSignal.timeout(PATIENCE),
      });
      this.#status = answer.status;
      const told = await answer.json().catch(() => null);
      if (answer.ok && told && Array.isArray(told.steps) && Array.isArray(told.log)) {
        this.session = told;
        return this.#time.hear(told.now, mark);
      }
      if (answer.ok || answer.status >= 500 || answer.status === 408 || answer.status === 429 || method === "GET") return false;
      const detail = told?.detail;
      this.#refusal = typeof detail === "string" ? detail : `The archive refused it (${answer.status}).`;
      return true;
    } catch {
      return false;
    }
  }
}

/** Where the session stands after the entries: the phase, the present step, and what is known of each step. */
export function situation(steps, log) {
  const marks = steps.map(() => ({ begun: NaN, ended: NaN, skipped: null, temperature: null }));
  for (const { step, what, at, value } of log) {
    const mark = marks[step];
    if (!mark) continue;
    if (what === "begun") mark.begun = Date.parse(at);
    if (what === "ended") mark.ended = Date.parse(at);
    if (what === "skipped") mark.skipped = value ?? "";
    if (what === "temperature") mark.temperature = value;
  }
  const index = marks.findIndex((mark) => Number.isNaN(mark.ended) && mark.skipped === null);
  const phase = index < 0 ? "finished" : Number.isNaN(marks[index].begun) ? "waiting" : "running";
  return { index, phase, marks, untouched: !log.some((fact) => fact.what === "begun" || fact.what === "skipped") };
}

/** What the clock says `elapsed` seconds after a step was begun: time left or over, the present cue and the next. */
export function reading(step, elapsed) {
  const t = Math.max(elapsed, 0);
  const at = step.cues.findLastIndex((cue) => cue.at_s <= t);
  const next = step.cues[at + 1] ?? null;
  return {
    left: Math.ceil(step.seconds - t),
    over: Math.floor(t - step.seconds), // negative before the end
    at,
    what: step.cues[at].what,
    next,
    until: next ? Math.ceil(next.at_s - t) : 0,
  };
}
