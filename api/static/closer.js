// Shows a picture at its full size inside its own frame, both of a pair alike; pressing again shows it whole.
const boxes = [...document.querySelectorAll(".closer")];

function toggle(box, x, y) {
  const pair = box.closest(".side-by-side").querySelectorAll(".closer");
  const near = !box.classList.contains("near");
  for (const one of pair) {
    one.classList.toggle("near", near);
    if (near) one.scrollTo(x * one.scrollWidth - one.clientWidth / 2, y * one.scrollHeight - one.clientHeight / 2);
  }
}

for (const box of boxes) {
  box.addEventListener("click", (event) => {
    const r = box.getBoundingClientRect();
    toggle(box, (event.clientX - r.left) / r.width, (event.clientY - r.top) / r.height);
  });
  box.addEventListener("keydown", (event) => {
    if (event.key === "Enter") toggle(box, 0.5, 0.5);
  });
  box.addEventListener("scroll", () => {
    for (const other of box.closest(".side-by-side").querySelectorAll(".closer")) {
      if (other !== box) other.scrollTo(box.scrollLeft, box.scrollTop);
    }
  });
}
