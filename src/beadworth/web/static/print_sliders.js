// The value beside a slider follows it; the server answers with what it would make of the print.
"use strict";

document.addEventListener("input", (event) => {
  const unit = event.target.dataset.unit;
  if (!unit) return;
  const shown = event.target.closest(".field").querySelector("output");
  shown.textContent = `${Math.round(event.target.value)} ${unit}`;
});
