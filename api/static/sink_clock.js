// The clock at the sink. It holds no running counter: what was logged and the server's time say where one stands, so a
// reload, a locked phone, sleep or a lost network change nothing.
//
// The page has one element
//   <div id="sink" data-source="URL" data-log="URL">
// GET data-source → 200 and the session:
//   { id, now, unit, notes, steps: [...], log: [...] }
//   now    the server's time, ISO 8601 in UTC with milliseconds; asked for in every answer
//   unit   "C" or "F", how temperatures are shown (left out: "C")
//   notes  the words offered under Note (left out: the page's own)
//   steps  as catalogue/bench/schedule.py writes them (`steps_as_json`)
//   log    entries in order: { key, step, what, at, value }; step counts from 0; what is "begun", "ended",
//          "temperature" (value in °C), "note" (value a text) or "skipped" (value the reason); at is ISO 8601 in UTC
// POST data-log with one entry as JSON → 200 and the session. An entry with a known key changes nothing and is answered
//   with 200 as well. `at` may lie in the past: the entry was made while the network was away.
// DELETE data-log + "/" + key → 200 and the session without that entry; 404 when there is none is taken as done.
// Any other 4xx (with { detail: "sentence" }) sets the entry aside and shows the sentence; 408, 429, 5xx and no answer
//   at all are tried again every 5 s, in the order of the entries.
import { Entries, reading, situation } from "./sink_state.js";
import { Panels } from "./sink_panels.js";
import { capital, clock, entryWords, fitDigits, paintFace, paintNews, paintRest, spokenCue } from "./sink_screen.js";
import { Sounds } from "./sink_sounds.js";
import { ServerTime } from "./sink_time.js";
import { LitScreen } from "./sink_wake.js";

const $ = (id) => document.querySelector(`#sink-${id}`);
const root = document.querySelector("#sink");
const time = new ServerTime();
const entries = new Entries(root.dataset.source, root.dataset.log, time);
const sounds = new Sounds();
const screen = new LitScreen();
const panels = new Panels($("panel"), $("hands"), $("digits"));
const known = { tankClosed: false };

const TICK = 200; // ms
const HEAR = 60000; // ms between two questions for the server's time
const KNOCK = 800; // ms in which a second knock on the same button is not meant
const REMIND = 15; // s between two sounds when the time is over

let here = null; // situation, with `seen` while a step runs
let lastSaid = ""; // the cue said last: "step begun-at cue"
let lastKnock = -Infinity;

function locate() {
  const { steps } = entries.session;
  here = situation(steps, entries.log);
  if (here.phase === "running") here.seen = reading(steps[here.index], (time.now() - here.marks[here.index].begun) / 1000);
}

function announce(words) {
  $("said").textContent = words;
}

// Says and sounds what begins now. After a reload or a sleep only the present cue is said, not all that were missed.
function sayCue() {
  if (here.phase !== "running") {
    lastSaid = "";
    return;
  }
  const step = entries.session.steps[here.index];
  const { seen } = here;
  const late = seen.over >= 0 ? Math.floor(seen.over / REMIND) : 0;
  const cue = `${here.index} ${here.marks[here.index].begun} ${seen.at} ${late}`;
  if (cue === lastSaid) return;
  lastSaid = cue;
  sounds.cue(seen.what);
  if (late === 0) announce(spokenCue(step, seen));
  else if ((late * REMIND) % 60 === 0) announce(`${capital(step.name)}: ${clock(seen.over)} over the time.`);
}

function paint() {
  if (!entries.session) {
    $("where").textContent = entries.reachable ? "Reading the session" : "The archive can't be reached. Trying again every 5 s.";
    return;
  }
  const before = here && `${here.index} ${here.phase}`;
  locate();
  if (panels.open && before !== `${here.index} ${here.phase}`) panels.close();
  paintRest(entries.session, here, entries, known);
  screen.keep(here.phase !== "finished" && (known.tankClosed || !here.untouched));
  tick();
}

function tick() {
  if (!entries.session) return;
  locate();
  if (root.dataset.phase === "waiting" || root.dataset.phase === "running") {
    paintFace(entries.session, here, time.now(), time.doubt > 0);
    sayCue();
  }
  paintNews(time.doubt, screen.words);
  const waits = sounds.on && !sounds.ready && root.dataset.phase !== "light-warning";
  $("sound").textContent = waits ? "Sound waits for a touch" : sounds.on ? "Turn sound off" : "Turn sound on";
}

/** A press on a button that moves on; a second knock at once is not meant. */
function pressed(node, act) {
  node.addEventListener("click", () => {
    const now = performance.now();
    if (now - lastKnock < KNOCK) return;
    lastKnock = now;
    act();
  });
}

function go() {
  const { index, phase } = here;
  entries.write(index, phase === "running" ? "ended" : "begun");
  const step = entries.session.steps[here.index];
  if (here.phase === "finished") announce("All steps are over.");
  else if (here.phase === "waiting") announce(`Next: ${step.name}.`);
}

function takeBack() {
  const fact = entries.log.at(-1);
  if (!fact) return;
  const words = entryWords(entries.session.steps, fact, entries.session.unit === "F" ? "F" : "C");
  if (here.phase === "finished") {
    entries.takeBack();
    announce(`Taken back: ${words}.`);
    return;
  }
  panels.back(words, fact.what === "begun" && here.phase === "running", () => {
    // What is shown is taken back, and nothing that came in from another device meanwhile.
    if (entries.log.at(-1)?.key === fact.key) entries.takeBack();
    announce(`Taken back: ${words}.`);
  });
}

pressed($("closed"), () => {
  known.tankClosed = true;
  paint();
  fitDigits();
  $("go").focus({ preventScroll: true });
  scrollTo(0, 0);
});
pressed($("go"), go);
pressed($("back"), takeBack);
pressed($("back-after"), takeBack);
$("strike").addEventListener("click", () => entries.strikeRefused());
$("temperature").addEventListener("click", () => {
  const { index, marks } = here;
  const wanted = entries.session.steps[index].wanted_c ?? null;
  const from = marks[index].temperature ?? wanted ?? 20;
  const unit = entries.session.unit === "F" ? "F" : "C";
  panels.temperature(from, wanted, unit, (celsius) => entries.write(index, "temperature", celsius));
});
$("write-note").addEventListener("click", () => {
  const { index } = here;
  panels.note(entries.session.notes, (words) => {
    entries.write(index, "note", words);
    announce(`Noted: ${words}.`);
  });
});
$("skip").addEventListener("click", () => {
  const { index } = here;
  panels.reason(entries.session.steps[index].name, (why) => entries.write(index, "skipped", why));
});
$("sound").addEventListener("click", () => {
  sounds.on = sounds.ready ? !sounds.on : true;
  if (sounds.on) sounds.wake().then(() => sounds.cue("rest"));
  tick();
});

// Browsers let a page sound only after it was touched; any touch will do.
addEventListener("pointerdown", () => sounds.on && sounds.wake().then(tick), { capture: true });
addEventListener("resize", fitDigits);
addEventListener("online", () => entries.send());
addEventListener("pageshow", () => entries.send());
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState !== "visible") return;
  entries.send();
  paint();
});
time.onjump = () => entries.send();
entries.onchange = paint;
screen.onchange = () => paintNews(time.doubt, screen.words);
setInterval(tick, TICK);
setInterval(() => document.visibilityState === "visible" && entries.send(), HEAR);
root.hidden = false;
$("sound").hidden = false;
paint();
entries.send();
