// Keeps the cut plan on the screen in step with what is typed; the screen works without it.
const form = document.querySelector("#register");
let timer = 0;
let asked = 0;

async function plan() {
  const mine = ++asked;
  try {
    const answer = await fetch("/register/plan", { method: "POST", body: new FormData(form) });
    if (!answer.ok || mine !== asked) return;
    const parsed = new DOMParser().parseFromString(await answer.text(), "text/html");
    document.querySelector("#cut-plan").replaceWith(parsed.querySelector("#cut-plan"));
  } catch {
    // The service is away: saving will say so.
  }
}

form.addEventListener("input", (event) => {
  if (!["format", "frames", "kept", "where", "binder", "layout", "first_slot", "cuts"].includes(event.target.name)) return;
  clearTimeout(timer);
  timer = setTimeout(plan, 250);
});
