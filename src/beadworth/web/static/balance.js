// The balance in use: its reading as it comes, taken with Enter in an empty field, or hands-free.
// What may be taken was decided by the server; here it is put into the field.
"use strict";

(() => {
  const every = 300; // ms
  let live = { name: "" };
  let handsFree = false;
  let taken = -1; // pieces the server has counted, as of the last one entered
  let entered = -1; // the rest of the pan whose reading was entered last
  let note = ""; // why Enter took nothing, until the pan or the field changes
  let noted = ""; // the state of the pan it was said of
  let asking = false;

  const box = () => document.querySelector("[data-balance]");
  const mass = () => document.querySelector("[data-weigh] #mass");

  const say = (words) => {
    const place = box()?.querySelector("[data-live-trouble]");
    if (!place || place.textContent === words) return;
    place.textContent = words;
    place.hidden = !words;
  };

  const show = () => {
    const here = box();
    if (!here) return;
    const still = live.reading !== "";
    here.querySelector("[data-live-mass]").textContent = live.latest || "–";
    here.querySelector("[data-live-mark]").textContent = still ? "●" : "○";
    here.querySelector("[data-live-state]").textContent =
      live.by_key
        ? still ? "by its key: compare with the display" : "press the key of the balance"
        : still ? "at rest" : live.latest ? "moving" : "no reading";
    const tick = here.querySelector("[data-hands-free]");
    if (tick) {
      tick.checked = handsFree;
      tick.closest(".tick").hidden = Boolean(live.by_key);
    }
  };

  const take = (reading) => {
    const field = mass();
    if (!field) return false;
    field.value = reading;
    entered = live.rest;
    return true;
  };

  // A check is filled piece by piece: placings one after the other, or behind a known mass and "=".
  const collect = (reading) => {
    const wanted = document.querySelector("[data-collecting]")?.checked;
    const known = document.querySelector('[data-collect="linearity"]');
    if (known?.value.trimEnd().endsWith("=")) {
      known.value = `${known.value.trimEnd()}${reading} `;
    } else if (wanted) {
      const placings = document.querySelector('[data-collect="repeatability"]');
      placings.value = `${placings.value} ${reading}`.trim();
    }
  };

  const ask = async () => {
    if (asking || !box() || document.hidden) return;
    asking = true;
    try {
      const answer = await fetch("/balances/live");
      live = answer.ok ? await answer.json() : { name: "" };
      if (live.name === "") {
        live = { name: "", reading: "", latest: "", taken };
        say("The balance is no longer listened to. Choose it again under Balances, or type the mass.");
      } else {
        if (noted !== `${live.rest} ${live.reading}`) note = "";
        say(live.trouble || note);
      }
      if (taken < 0 || live.taken < taken) taken = live.taken;
      if (handsFree && live.taken > taken && take(live.taken_reading)) {
        mass().form.requestSubmit();
      }
      if (live.taken > taken) {
        collect(live.taken_reading);
        taken = live.taken;
      }
      show();
    } catch {
      live = { name: "", reading: "", latest: "" };
      show();
      say("Beadworth does not answer. See that it runs.");
    } finally {
      asking = false;
    }
  };

  // Enter, or the button, with nothing typed: the reading, if the pan is at rest with another piece.
  const enter = (event) => {
    const field = mass();
    if (!field || !box() || field.value.trim()) return;
    if (live.reading && live.rest !== entered) {
      take(live.reading);
      return;
    }
    event.preventDefault();
    event.stopPropagation();
    note = live.reading
      ? live.by_key
        ? "No new line came since the last one. Put this coupon on and press the balance's key, or type its mass."
        : "Nothing was moved on the pan since the last one. Put this coupon on, or type its mass."
      : live.by_key
        ? "No line came yet. Press the balance's key once it is at rest, or type the mass."
        : "Not at rest yet. Wait and press Enter again, or type the mass.";
    noted = `${live.rest} ${live.reading}`;
    say(live.trouble || note);
  };

  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.id === "mass") enter(event);
  }, true);
  document.addEventListener("click", (event) => {
    if (event.target.closest?.("[data-weigh] .mass-line button")) enter(event);
  }, true);
  document.addEventListener("change", (event) => {
    if (event.target.matches("[data-hands-free]")) handsFree = event.target.checked;
  });
  document.addEventListener("htmx:afterSettle", show);
  document.addEventListener("DOMContentLoaded", ask);
  setInterval(ask, every);
})();
