// Paints what the clock knows: words, digits, the tank, the lists. Decides nothing about time.
import { degrees, element } from "./sink_panels.js";

const $ = (id) => document.querySelector(`#sink-${id}`);
export const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

function say(node, words) {
  if (node.textContent !== words) node.textContent = words;
}

function show(node, seen) {
  if (node.hidden === seen) node.hidden = !seen;
}

/** Seconds as a clock: "0:30", "12:00", from 100 minutes on "1:40:00". */
export function clock(seconds) {
  const minutes = Math.floor(seconds / 60);
  const rest = String(seconds % 60).padStart(2, "0");
  if (minutes < 100) return `${minutes}:${rest}`;
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}:${rest}`;
}

const span = (seconds) => (seconds < 100 ? `${seconds} s` : clock(seconds));
const timeOfDay = (at) => new Date(at).toLocaleTimeString("en-GB");
const SMALLEST = 96; // px, the least height of the digits

/** The cue as [the words to act on, the words beside them]. */
export function cueWords(step, seen) {
  const until = span(seen.until);
  if (seen.what === "agitate") return [`${capital(step.how)} – ${until}`, { rest: "then let it stand", pour: "then pour out", end: "then it is over" }[seen.next.what]];
  if (seen.what === "pour") return [`Pour out now – ${until}`, "empty when the time is over"];
  if (seen.what === "end") {
    const over = `${span(seen.over)} over the time`;
    return ["Time is over", step.pour_s ? `pour out – ${over}` : over];
  }
  const still = step.kind === "wash" || step.kind === "rinse" ? "Leave it in the water" : "Let it stand";
  const then = { agitate: `${step.how} in ${until}`, pour: `pour out in ${until}`, end: `over in ${until}` }[seen.next.what];
  return [still, then];
}

/** The cue as it is read out once, without seconds that run. */
export function spokenCue(step, seen) {
  if (seen.what === "end") return `${capital(step.name)}: time is over.`;
  const [first] = cueWords(step, seen);
  return `${first.replace(" – ", ", ").replace(/ s$/, " seconds")}.`;
}

/** Names an entry: "Developer begun at 18:00:00". */
export function entryWords(steps, fact, unit) {
  const name = capital(steps[fact.step]?.name ?? "step");
  const at = `at ${timeOfDay(fact.at)}`;
  if (fact.what === "temperature") return `${name}: temperature ${degrees(fact.value, unit)} ${at}`;
  if (fact.what === "note") return `${name}: note “${fact.value}” ${at}`;
  if (fact.what === "skipped") return `${name} left out (${fact.value}) ${at}`;
  return `${name} ${fact.what === "ended" ? "over" : fact.what} ${at}`;
}

/** The digits as wide as the place allows, whatever the typeface; the place keeps the height of the tallest, "0:00". */
export function fitDigits() {
  const place = $("digits");
  if (!place.offsetParent) return;
  const figure = place.firstElementChild;
  const tallest = Number(getComputedStyle(place).getPropertyValue("--tallest")) * innerHeight;
  const words = figure.textContent;
  place.style.fontSize = "100px";
  const [widest, size] = ["0:00", words].map((tried) => {
    figure.textContent = tried;
    const wide = (100 * place.clientWidth) / figure.getBoundingClientRect().width;
    return Math.floor(Math.max(SMALLEST, Math.min(wide, tallest)));
  });
  place.style.fontSize = `${size}px`;
  place.style.minHeight = `${widest}px`;
}

function digits(words, over) {
  const place = $("digits");
  const figure = place.firstElementChild;
  const wider = figure.textContent.length !== words.length;
  say(figure, words);
  place.classList.toggle("over", over);
  place.classList.toggle("long", words.length > 5);
  if (wider) fitDigits();
}

function stepState(step, mark, now, unit) {
  const parts = [];
  if (mark.skipped !== null) parts.push(`left out: ${mark.skipped}`);
  else if (!Number.isNaN(mark.ended)) {
    const took = Number.isNaN(mark.begun) ? "over" : `took ${clock(Math.max(Math.round((mark.ended - mark.begun) / 1000), 0))}`;
    parts.push(took);
  } else if (now) parts.push(Number.isNaN(mark.begun) ? "next" : "now");
  if (mark.temperature !== null) parts.push(`read ${degrees(mark.temperature, unit)}`);
  return parts.join(", ");
}

/** The face: where one is, the name, the digits, the temperature, the cue and what comes next. */
export function paintFace(session, where, now, doubt) {
  const { steps } = session;
  const { index, phase, marks } = where;
  const unit = session.unit === "F" ? "F" : "C";
  const step = steps[index];
  const mark = marks[index];
  say($("where"), `Step ${index + 1} of ${steps.length}${doubt ? " – time not sure" : step.optional ? " – may be left out" : ""}`);
  say($("name"), capital(step.name));
  const wanted = step.temperature ? `Wanted ${step.temperature}` : "No temperature set";
  say($("wanted"), mark.temperature === null ? wanted : `${wanted} – read ${degrees(mark.temperature, unit)}`);
  say($("note"), step.note ?? "");
  const after = steps[index + 1];
  say($("next"), after ? `Next: ${after.name}, ${clock(after.seconds)}` : "Nothing after this");
  const cue = $("cue");
  if (phase === "waiting") {
    digits(clock(step.seconds), false);
    cue.dataset.what = "ready";
    const before = marks.slice(0, index).findLast((one) => !Number.isNaN(one.ended));
    const first = step.cues[0].what === "agitate" ? `first ${step.how}, ${span(step.cues[1].at_s)}` : "first let it stand";
    say($("cue-words"), "Ready to begin");
    const since = before ? Math.max(Math.floor((now - before.ended) / 1000), 0) : -1;
    say($("cue-more"), before ? `${clock(since)} since the last step` : first);
    return;
  }
  const seen = where.seen;
  digits(seen.over < 0 ? clock(seen.left) : seen.over ? `+${clock(Math.min(seen.over, 5999))}` : "0:00", seen.over >= 0);
  cue.dataset.what = seen.what;
  const [words, more] = cueWords(step, seen);
  say($("cue-words"), words);
  say($("cue-more"), more);
}

/** Buttons, lists and sentences about the connection; painted when something has changed, not at each tick. */
export function paintRest(session, where, entries, known) {
  const { steps } = session;
  const { index, phase, marks, untouched } = where;
  const unit = session.unit === "F" ? "F" : "C";
  const dark = untouched && !known.tankClosed;
  document.querySelector("#sink").dataset.phase = dark ? "light-warning" : phase;
  show($("light"), dark);
  show($("face"), !dark && phase !== "finished");
  show($("finished"), !dark && phase === "finished");
  if (dark || phase === "finished") {
    say($("where"), dark ? "Before anything is begun" : "At the sink");
    say($("name"), dark ? "The tank must be closed" : "All steps are over");
  }
  const log = entries.log;
  if (phase === "finished") {
    const notes = log.filter((fact) => fact.what === "note").map((fact) => element("li", {}, entryWords(steps, fact, unit)));
    const lines = steps.map((step, i) =>
      element("li", {}, element("b", {}, capital(step.name)), ` ${stepState(step, marks[i], false, unit)} (meant: ${clock(step.seconds)})`),
    );
    $("summary").replaceChildren(...lines, ...notes);
  } else {
    const step = steps[index];
    const last = index === steps.length - 1;
    const end = `${step.pour_s ? "Poured out" : "Done"} – ${last ? "finished" : "next"}`;
    say($("go"), phase === "running" ? end : `Begin ${step.name}`);
    show($("skip"), phase === "waiting");
  }
  show($("back"), log.length > 0 && phase !== "finished");
  show($("back-after"), log.length > 0);
  document.querySelectorAll("#sink-steps .state").forEach((node, i) => {
    say(node, marks[i] ? stepState(steps[i], marks[i], i === index, unit) : "");
  });
  const waits = entries.waiting.length;
  const many = waits === 1 ? "1 entry is not sent yet. It is" : `${waits} entries are not sent yet. They are`;
  say($("unsent"), `${many} kept on this device and sent when the archive can be reached.`);
  show($("unsent"), waits > 0 && !entries.reachable);
  const { refused } = entries;
  show($("refused"), refused.length > 0);
  $("refused-list").replaceChildren(
    ...refused.map(({ op, fact, sentence }) =>
      element("li", {}, `${op === "back" ? "Taking back: " : ""}${entryWords(steps, fact, unit)}. ${sentence}`),
    ),
  );
}

export function paintNews(doubt, lit) {
  const words = `The clock of this device jumped by ${clock(Math.round(doubt / 1000))}, as after sleep. Asking the archive for the right time; until then compare with another clock.`;
  say($("doubt"), words);
  show($("doubt"), doubt > 0);
  say($("lit"), lit);
  show($("lit"), lit !== "");
}
