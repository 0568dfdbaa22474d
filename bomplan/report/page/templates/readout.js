"use strict";
// Beside a chart that has an axis of figures: the row of its table nearest to the pointer.
for (const figure of document.querySelectorAll("figure[data-reach]")) {
  const [left, right, first, last] = figure.dataset.reach.split(" ").map(Number);
  const rows = [...figure.querySelectorAll("tr[data-at]")];
  const heads = [...figure.querySelectorAll("thead th")].map((head) => head.textContent);
  const drawing = figure.querySelector("svg");
  const out = document.createElement("p");
  out.className = "readout";
  out.setAttribute("aria-hidden", "true");
  figure.insertBefore(out, figure.querySelector("figcaption"));
  drawing.addEventListener("pointermove", (event) => {
    const box = drawing.getBoundingClientRect();
    const share = (event.clientX - box.left) / box.width;
    const at = first + ((share - left) / (right - left)) * (last - first);
    let nearest = rows[0];
    for (const row of rows) {
      if (Math.abs(row.dataset.at - at) < Math.abs(nearest.dataset.at - at)) nearest = row;
    }
    out.textContent = [...nearest.cells]
      .map((cell, place) => heads[place] + " " + cell.textContent).join(", ");
  });
  drawing.addEventListener("pointerleave", () => { out.textContent = ""; });
}
