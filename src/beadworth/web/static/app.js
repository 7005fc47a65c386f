// The little that a page cannot do by itself: where the eye goes after a change, and
// what a lost connection means for what was typed. Nothing is computed here.
"use strict";

(() => {
  const waited = 8000;

  // After a refusal the summary is read first.
  const lookAt = (root) => {
    const summary = root.querySelector("[data-focus]");
    if (summary) summary.focus();
  };

  // The row being weighed stays in sight of the list, without moving the page.
  const keepInView = () => {
    for (const box of document.querySelectorAll("[data-keep-in-view]")) {
      const row = box.querySelector("[aria-current]");
      if (row) box.scrollTop = row.offsetTop - box.clientHeight / 3;
    }
  };

  // What was said of a field was said of what stood there; changed, it waits to be judged anew.
  document.addEventListener("input", (event) => {
    const field = event.target;
    if (!field.matches("[aria-invalid]")) return;
    field.removeAttribute("aria-invalid");
    field.closest(".wrong")?.classList.remove("wrong");
    const beside = field.id && document.getElementById(`${field.id}-wrong`);
    if (beside) beside.remove();
  });

  // What takes long says so, and is not asked for twice.
  document.addEventListener("submit", (event) => {
    const { slow } = event.target.dataset;
    if (!slow) return;
    for (const button of event.target.querySelectorAll("button")) button.disabled = true;
    const words = document.createElement("p");
    words.className = "busy shown";
    words.setAttribute("role", "status");
    words.append(document.createElement("progress"), ` ${slow}`);
    words.firstChild.setAttribute("aria-label", "Working");
    event.target.append(words);
  });

  // A refusal of what a section's own form asked stands under that form, not in the section's place.
  document.addEventListener("htmx:beforeSwap", (event) => {
    const { target, xhr, requestConfig } = event.detail;
    const weighing = weighForm(requestConfig.elt);
    if (weighing && [401, 403].includes(xhr.status)) { // signed out meanwhile: the mass stays
      event.detail.shouldSwap = false;
      const said = new DOMParser().parseFromString(xhr.responseText, "text/html");
      lineDown(weighing, `Not saved: ${said.body.textContent.trim().replace(/\s+/g, " ")}`);
      return;
    }
    const form = requestConfig.elt.closest(".inline-form");
    if (!form) return;
    const before = form.nextElementSibling;
    if (before && before.classList.contains("said-no")) before.remove();
    if (xhr.status < 400 || !target.contains(form)) return;
    const place = document.createElement("div");
    place.className = "said-no";
    form.after(place);
    event.detail.target = place;
    event.detail.swapOverride = "innerHTML";
  });

  const weighForm = (element) => (element && element.closest ? element.closest("[data-weigh]") : null);

  const lineDown = (form, words) => {
    const place = form.querySelector("#line-down");
    if (!place) return;
    place.textContent = words;
    place.hidden = false;
    const mass = form.querySelector("#mass");
    mass.focus();
    mass.select();
  };

  document.addEventListener("DOMContentLoaded", () => {
    lookAt(document);
    keepInView();
  });

  document.addEventListener("htmx:afterSettle", (event) => {
    lookAt(event.detail.elt);
    keepInView();
  });

  // An entry is in the field until the bench has said that it is kept.
  document.addEventListener("htmx:beforeRequest", (event) => {
    const form = weighForm(event.detail.elt);
    if (form) {
      form.querySelector("#line-down").hidden = true;
      form.dataset.timer = String(setTimeout(() => {
        lineDown(form, "No answer yet. The mass is still in the field and may not be saved; " +
          "Enter sends it again, and it counts once.");
      }, waited));
    }
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    const form = weighForm(event.detail.elt);
    if (form) clearTimeout(Number(form.dataset.timer));
  });

  const notSaved = (event) => {
    const form = weighForm(event.detail.elt);
    if (form) {
      lineDown(form, "Not saved: Beadworth does not answer. The mass is still in the field. " +
        "See that it runs, then press Enter again; it counts once.");
      return;
    }
    const target = event.detail.target;
    if (target && !target.closest("form")) {
      target.textContent = "";
      const words = document.createElement("p");
      words.className = "line-down";
      words.setAttribute("role", "alert");
      words.textContent = event.type === "htmx:responseError"
        ? "Beadworth failed at this part; the terminal it runs in shows the fault. " +
          "Loading this page again is safe."
        : "Beadworth did not answer. See that it runs, then load this page again.";
      target.append(words);
    }
  };
  for (const name of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
    document.addEventListener(name, notSaved);
  }
})();
