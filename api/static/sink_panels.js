// What opens in place of the buttons: the temperature read, a note, a reason, taking back. The clock stays in sight.
const NOTES = ["poured in late", "poured out late", "a turn was missed", "the lid leaked", "temperature fell", "bottle ran short"];
const REASONS = ["not needed", "done before", "bath not at hand", "by my own choice"];

/** Degrees in the person's unit with one decimal, "20.0 °C"; what is stored stays °C. */
export function degrees(celsius, unit) {
  return `${toUnit(celsius, unit).toFixed(1)} °${unit}`;
}

const toUnit = (celsius, unit) => (unit === "F" ? celsius * 1.8 + 32 : celsius);
const toCelsius = (shown, unit) => Number((unit === "F" ? (shown - 32) / 1.8 : shown).toFixed(3));

export function element(name, attributes = {}, ...within) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "onclick") made.addEventListener("click", value);
    else made.setAttribute(key, value);
  }
  made.append(...within);
  return made;
}

const button = (words, onclick, kind = "") => element("button", { type: "button", class: kind, onclick }, words);

export class Panels {
  #place;
  #hands;
  #clock;
  #opener = null;
  #from = 0;

  /** `clock` is scrolled to the top when a panel opens below it. */
  constructor(place, hands, clock) {
    this.#place = place;
    this.#clock = clock;
    this.#hands = hands;
    place.addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.close();
    });
  }

  get open() {
    return !this.#place.hidden;
  }

  #show(title, leave, ...content) {
    this.#opener = document.activeElement;
    const heading = element("h2", { tabindex: "-1" }, title);
    this.#place.replaceChildren(heading, ...content, button(leave, () => this.close(), "leave"));
    this.#place.hidden = false;
    this.#hands.hidden = true;
    heading.focus({ preventScroll: true });
    this.#from = scrollY;
    const below = this.#place.getBoundingClientRect().top > this.#clock.getBoundingClientRect().bottom - 1;
    this.#clock.scrollIntoView({ block: below ? "start" : "nearest" });
  }

  close() {
    if (!this.open) return;
    this.#place.hidden = true;
    this.#hands.hidden = false;
    const back = this.#opener?.isConnected && !this.#opener.hidden ? this.#opener : this.#hands.querySelector("button:not([hidden])");
    back?.focus({ preventScroll: true });
    scrollTo(0, this.#from); // the buttons are again where the hand left them
  }

  #choose(title, words, chosen) {
    const pick = (word) => {
      this.close();
      chosen(word);
    };
    this.#show(title, "Write nothing", ...words.map((word) => button(word, () => pick(word), "word")));
  }

  note(words, chosen) {
    this.#choose("Note", words?.length ? words : NOTES, chosen);
  }

  reason(name, chosen) {
    this.#choose(`Why is ${name} left out?`, REASONS, chosen);
  }

  /** A keypad that begins at `from` °C (the wanted or last read temperature) and moves by 0.1 and 0.5 of the unit. */
  temperature(from, wanted, unit, chosen) {
    let shown = Math.round(toUnit(from, unit) * 10) / 10;
    const figure = element("output", { class: "degrees", "aria-live": "polite" });
    const write = button("", () => {
      this.close();
      chosen(toCelsius(shown, unit));
    }, "primary");
    const change = (by) => {
      shown = Math.round((shown + by) * 10) / 10;
      figure.textContent = `${shown.toFixed(1)} °${unit}`;
      write.textContent = `Write down ${shown.toFixed(1)} °${unit}`;
    };
    change(0);
    const keys = [-0.5, -0.1, 0.1, 0.5].map((by) =>
      button(`${by < 0 ? "−" : "+"}${Math.abs(by).toFixed(1)}`, () => change(by), "key"),
    );
    const beside = wanted === null ? [] : [element("p", { class: "small" }, `Wanted: ${degrees(wanted, unit)}`)];
    this.#show("Temperature now", "Write nothing", figure, ...beside, element("div", { class: "keys" }, ...keys), write);
  }

  /** Asks before an entry is taken back, because a knuckle may have slipped and a running clock would be lost. */
  back(words, stops, agreed) {
    const take = button("Yes, take it back", () => {
      this.close();
      agreed();
    }, "primary");
    const warning = stops ? " The clock of this step stops." : "";
    this.#show("Take the last entry back?", "No, keep it", element("p", {}, `${words}.${warning}`), take);
  }
}
