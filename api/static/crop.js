// Draws the crop over the picture as its four edges are typed, and writes them where it is drawn with the pointer.
const box = document.querySelector("#crop-picture");
const form = document.querySelector("#choice-form");
const button = document.querySelector("#draw-crop");

if (box && form && button) {
  const names = ["left", "top", "right", "bottom"];
  const out = box.querySelector(".left-out");
  let start = null;
  let before = null;

  const typed = () => names.map((name) => form.elements[name].value.trim().replace(",", "."));

  function draw() {
    const texts = typed();
    const [left, top, right, bottom] = texts.map(Number);
    const good = texts.every(Boolean) && left >= 0 && left < right && right <= 100 && top >= 0 && top < bottom && bottom <= 100;
    out.setAttribute("d", good ? `M0 0H100V100H0ZM${left} ${top}V${bottom}H${right}V${top}Z` : "");
  }

  function write(edges) {
    names.forEach((name, n) => (form.elements[name].value = edges[n]));
    draw();
  }

  function spot(event) {
    const r = box.getBoundingClientRect();
    const part = (value, size) => Math.min(100, Math.max(0, Math.round((1000 * value) / size) / 10));
    return [part(event.clientX - r.left, r.width), part(event.clientY - r.top, r.height)];
  }

  const drawing = () => button.getAttribute("aria-pressed") === "true";

  button.hidden = false;
  button.addEventListener("click", () => {
    button.setAttribute("aria-pressed", String(!drawing()));
    box.classList.toggle("drawing", drawing());
    if (drawing()) box.scrollIntoView({ block: "nearest" });
  });
  box.addEventListener("pointerdown", (event) => {
    if (!drawing() || !event.isPrimary || event.button) return;
    event.preventDefault();
    start = spot(event);
    before = names.map((name) => form.elements[name].value);
    box.setPointerCapture(event.pointerId);
  });
  box.addEventListener("pointermove", (event) => {
    if (!start) return;
    const end = spot(event);
    write([...start.map((v, n) => Math.min(v, end[n])), ...start.map((v, n) => Math.max(v, end[n]))]);
  });
  box.addEventListener("pointerup", (event) => {
    if (!start) return;
    const end = spot(event);
    // A press without a drag, or a hair's breadth, is no crop.
    if (start.some((v, n) => Math.abs(v - end[n]) < 1)) write(before);
    start = null;
  });
  box.addEventListener("pointercancel", () => {
    if (start) write(before);
    start = null;
  });
  for (const name of names) form.elements[name].addEventListener("input", draw);
  draw();
}
