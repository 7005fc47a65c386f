// The trial page: the level of loss that numbers, chart and speed follow, and the chart that grows
// with each weighing. What is shown was calculated by the server; here it is only chosen.
"use strict";

(() => {
  const rest = 1200; // ms without a weighing after which the intervals are worked out in full
  let later = 0;
  let asked = 0;
  let running = false;
  let posting = false;

  const dial = () => document.querySelector("[data-live]");
  const read = (name) => JSON.parse(dial().querySelector(`script[data-${name}]`).textContent);
  const views = () =>
    [...dial().querySelectorAll("[data-chart]")].map((chart) => chart.view).filter(Boolean);

  // Numbers, words and drawing at one level of loss.
  const showLevel = (index) => {
    const steps = read("steps");
    const level = document.getElementById("level");
    const at = Math.max(0, Math.min(steps.losses.length - 1, index));
    level.value = at;
    level.setAttribute("aria-valuetext", `${steps.words[at]} loss`);
    document.getElementById("level-words").textContent = steps.words[at];
    for (const cell of dial().querySelectorAll("[data-cell]")) {
      const said = steps.cells[cell.dataset.cell];
      if (!said) continue;
      cell.querySelector("[data-number]").textContent = said[at][0];
      cell.querySelector("[data-range]").textContent = said[at][1];
    }
    for (const view of views()) view.signal("loss", steps.losses[at]).runAsync();
    const hidden = document.querySelector("input[data-level]");
    const per = String(Math.round(steps.losses[at] * 1e4) / 100);
    if (hidden && hidden.value !== per) {
      hidden.value = per;
      htmx.trigger(document.body, "level");
    }
  };

  // The level is dragged where it is drawn.
  const grab = (event) => {
    const chart = event.target.closest?.("[data-live] [data-chart]");
    if (!chart || !chart.view || document.getElementById("level").disabled) return;
    const steps = read("steps");
    const svg = chart.querySelector("svg");
    const toLoss = (clientY) => {
      const box = svg.getBoundingClientRect();
      const scaled = ((clientY - box.top) / box.height) * svg.viewBox.baseVal.height;
      return chart.view.scale("y").invert(scaled - chart.view.origin()[1]);
    };
    const now = steps.losses[Number(document.getElementById("level").value)];
    const reach = Math.abs(toLoss(event.clientY + 14) - toLoss(event.clientY));
    if (Math.abs(toLoss(event.clientY) - now) > reach) return;
    event.preventDefault();
    const nearest = (loss) =>
      steps.losses.reduce((best, value, i) =>
        Math.abs(value - loss) < Math.abs(steps.losses[best] - loss) ? i : best, 0);
    const move = (moved) => showLevel(nearest(toLoss(moved.clientY)));
    const stop = () => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", stop);
      window.removeEventListener("pointercancel", stop);
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", stop);
    window.addEventListener("pointercancel", stop);
  };

  // Coupons that stand out stay marked on the strip.
  const markDoubts = () => {
    if (!dial()) return;
    const doubtful = new Set(read("doubtful"));
    for (const bead of document.querySelectorAll(".bead[data-coupon]")) {
      const doubt = doubtful.has(bead.dataset.coupon);
      bead.classList.toggle("doubt", doubt);
      const words = bead.querySelector(".vh");
      if (words && doubt && !words.textContent.endsWith("stands out")) {
        words.textContent += ", stands out";
      }
    }
  };

  // New rows for the chart that is drawn; numbers and words beside it.
  const take = async (page) => {
    const fresh = new DOMParser().parseFromString(page, "text/html").querySelector("[data-live]");
    const old = dial();
    if (!fresh || !old) return;
    const kinds = (root, kind) => root.querySelector(`[data-chart].${kind}`);
    for (const kind of ["wide", "narrow"]) {
      const spec = kinds(fresh, kind).querySelector("script.spec");
      const chart = kinds(old, kind);
      chart.querySelector("script.spec").textContent = spec.textContent;
      if (!chart.view) continue;
      const { data, params } = JSON.parse(spec.textContent);
      for (const { name, value } of params) if (name !== "loss") chart.view.signal(name, value);
      chart.view.data("rows", data.values);
      await chart.view.runAsync();
    }
    for (const part of [".live-finding", ".live-numbers", "figcaption"]) {
      old.querySelector(part).replaceWith(fresh.querySelector(part));
    }
    for (const name of ["steps", "doubtful"]) {
      const here = `script[data-${name}]`;
      old.querySelector(here).textContent = fresh.querySelector(here).textContent;
    }
    const level = document.getElementById("level");
    level.disabled = fresh.querySelector("#level").disabled;
    old.toggleAttribute("data-draft", fresh.hasAttribute("data-draft"));
    showLevel(Number(level.value));
    markDoubts();
  };

  // One request at a time; what was entered meanwhile is fetched by the next.
  const follow = async (draft) => {
    if (!dial()) return;
    dial().toggleAttribute("data-following", true);
    clearTimeout(later);
    asked += 1;
    if (running) return;
    running = true;
    let mine;
    let rough = draft;
    do {
      mine = asked;
      const key = encodeURIComponent(dial().dataset.key);
      const address = `/trials/${key}/live?rows=1${rough ? "&draft=1" : ""}`;
      try {
        const answer = await fetch(address, { headers: { "HX-Request": "true" } });
        const found = await answer.text();
        if (answer.ok && mine === asked) await take(found);
      } catch {
        break; // the entry itself says when the server does not answer
      }
      if (mine !== asked) rough = true;
    } while (mine !== asked);
    running = false;
    if (rough) later = setTimeout(() => follow(false), rest);
    else if (!posting) dial().toggleAttribute("data-following", false);
  };

  document.addEventListener("input", (event) => {
    const field = event.target;
    if (field.id === "level") showLevel(Number(field.value));
    if (field.dataset.unit) {
      const words = field.closest(".field").querySelector("output");
      if (words) words.textContent = `${field.value} ${field.dataset.unit}`;
    }
  });
  document.addEventListener("pointerdown", grab);
  const following = (now) => (event) => {
    if (!dial() || event.detail.requestConfig?.verb !== "post") return;
    posting = now;
    dial().toggleAttribute("data-following", now);
  };
  // An entry brings the run sheet along where it stands in the page.
  document.addEventListener("htmx:configRequest", (event) => {
    const { verb, parameters } = event.detail;
    if (verb === "post" && document.getElementById("run-list")) parameters.sheet = "1";
  });
  // A page that sends entries by itself says so.
  document.addEventListener("entered", () => follow(true));
  document.addEventListener("htmx:beforeRequest", following(true));
  document.addEventListener("htmx:sendError", following(false));
  document.addEventListener("htmx:afterSettle", (event) => {
    const at = event.detail.elt;
    if (at.classList.contains("dial") || at.closest?.(".dial")) {
      markDoubts();
      if (dial()?.hasAttribute("data-draft")) later = setTimeout(() => follow(false), rest);
    }
    if (at.id === "card" && dial()) showLevel(Number(document.getElementById("level").value));
  });
  // The curve is asked for as soon as the entry is on the bench, while the page still takes the answer in.
  document.addEventListener("htmx:beforeSwap", (event) => {
    const { requestConfig, target } = event.detail;
    if (requestConfig?.verb !== "post" || !["bench", "card"].includes(target?.id)) return;
    posting = false;
    follow(true);
  });
})();
