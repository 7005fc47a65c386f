// A chart stands in the page as a drawing already. Where scripts run, the same spec is
// drawn again by the chart library, so that each mark can be asked for its values.
"use strict";

(() => {
  const options = {
    mode: "vega-lite",
    ast: true, // expressions are interpreted: the page's policy forbids making code from text
    actions: false,
    defaultStyle: false,
    renderer: "svg",
    logLevel: 1, // errors; that two layers share a legend is no news to a reader
    tooltip: { disableDefaultStyle: true, theme: "custom" },
  };

  const draw = async (chart) => {
    if (chart.dataset.drawn || typeof vegaEmbed !== "function") return;
    if (!chart.offsetParent) return; // the drawing for the other width
    chart.dataset.drawn = "1";
    const spec = JSON.parse(chart.querySelector("script.spec").textContent);
    const place = document.createElement("div");
    place.className = "chart-live";
    try {
      chart.view = (await vegaEmbed(place, spec, options)).view;
      for (const inside of place.children) inside.setAttribute("aria-hidden", "true");
      place.setAttribute("role", "img");
      place.setAttribute("aria-label", spec.description || "");
      chart.querySelector(".chart-still").replaceWith(place);
    } catch (error) {
      console.error(error); // the drawing stays
    }
  };

  const look = () => document.querySelectorAll("[data-chart]").forEach(draw);
  document.addEventListener("DOMContentLoaded", look);
  document.addEventListener("htmx:afterSettle", look);
  document.addEventListener("toggle", look, true); // what was folded away has a width now
  window.addEventListener("resize", look);
})();
