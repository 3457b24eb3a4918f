// Drags a picture to another frame of its roll; by keyboard the same is done on the frame's own page.
const form = document.querySelector("#reassign");

for (const cell of document.querySelectorAll(".frames-grid li")) {
  if (cell.dataset.scan) {
    cell.draggable = true;
    cell.addEventListener("dragstart", (event) => event.dataTransfer.setData("text/plain", cell.dataset.scan));
  }
  cell.addEventListener("dragover", (event) => event.preventDefault());
  cell.addEventListener("drop", (event) => {
    event.preventDefault();
    const scan = event.dataTransfer.getData("text/plain");
    if (!/^\d+$/.test(scan) || scan === cell.dataset.scan) return;
    form.elements.scan.value = scan;
    form.elements.label.value = cell.dataset.label;
    form.requestSubmit();
  });
}
