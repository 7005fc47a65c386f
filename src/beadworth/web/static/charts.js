// A chart stands in the page as a drawing already, on paper too. Where scripts run, one that comes
// near the screen is drawn again by the chart library, so that each mark can be asked for its
// values; the library is fetched for the first of them.
"use strict";

(() => {
  const libraries = document.currentScript.dataset.libraries.split(" ");
  const options = {
    mode: "vega-lite",
    ast: true, // expressions are interpreted: the page's policy forbids making code from text
    actions: false,
    defaultStyle: false,
    renderer: "svg",
    logLevel: 1, // errors; that two layers share a legend is no news to a reader
    tooltip: { disableDefaultStyle: true, theme: "custom" },
  };
  const near = new Set(); // to be drawn, first come first
  let drawing = false;
  let fetched;

  const fetchAll = () => Promise.all(libraries.map((address) => new Promise((done, failed) => {
    const script = document.createElement("script");
    script.src = address;
    script.async = false; // they build on each other
    script.onload = done;
    script.onerror = () => failed(new Error(`${address} did not come`));
    document.head.append(script);
  })));

  const draw = async (chart) => {
    if (chart.dataset.drawn || !chart.isConnected) return;
    chart.dataset.drawn = "1";
    watch.unobserve(chart);
    const place = document.createElement("div");
    place.className = "chart-live";
    try {
      fetched ??= fetchAll();
      await fetched;
      const spec = JSON.parse(chart.querySelector("script.spec").textContent);
      chart.view = (await vegaEmbed(place, spec, options)).view;
      for (const inside of place.children) inside.setAttribute("aria-hidden", "true");
      place.setAttribute("role", "img");
      place.setAttribute("aria-label", spec.description || "");
      chart.querySelector(".chart-still").replaceWith(place);
    } catch (error) {
      console.error(error); // the drawing stays
    }
  };

  // One after the other; in between the page answers, and what has been scrolled past drops out.
  const drawNear = async () => {
    if (drawing) return;
    drawing = true;
    for (const chart of near) {
      near.delete(chart);
      await draw(chart);
      await new Promise((next) => setTimeout(next));
    }
    drawing = false;
  };

  // Half a screen ahead. What is folded away, or drawn for the other width, is not near.
  const watch = new IntersectionObserver((seen) => {
    for (const { target, isIntersecting } of seen) near[isIntersecting ? "add" : "delete"](target);
    drawNear();
  }, { rootMargin: "50% 0px" });

  const look = () => {
    for (const chart of document.querySelectorAll("[data-chart]:not([data-drawn])")) {
      // the chart that follows weighings and the level is told of them from the start
      if (chart.closest("[data-live]") && chart.offsetParent) near.add(chart);
      else watch.observe(chart);
    }
    drawNear();
  };
  document.addEventListener("DOMContentLoaded", look);
  document.addEventListener("htmx:afterSettle", look);
  document.addEventListener("chart:draw", ({ target }) => { // one that is asked for
    near.add(target);
    drawNear();
  });
})();
