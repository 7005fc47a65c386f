// The plan of one layer: fetch its beads, draw them, let them be asked. What is drawn was worked
// out by the server; here it is only shown.
"use strict";

(() => {
  const { Raster, prepare, BINS } = window.beadworthRaster;
  const { Moved, fixed, percent } = window.beadworthMap;
  const EDGES = [2, 1, 0.5, 0.25, 0.1, 0, -0.1]; // headroom at the marks of the ruler
  const KEPT = 12; // sheets kept here

  const span = (seconds) => seconds < 90 ? `${fixed(seconds, 0)} s` : seconds < 5400
    ? `${Math.round(seconds / 60)} min`
    : `${Math.floor(seconds / 3600)} h ${String(Math.round(seconds / 60) % 60).padStart(2, "0")} min`;

  class LayerMap extends Moved {
    constructor(root) {
      super();
      this.root = root;
      this.data = JSON.parse(root.querySelector(".map-data").textContent);
      this.plan = root.querySelector(".map-plan");
      this.strip = root.querySelector(".map-strip");
      this.range = root.querySelector("#sheet");
      this.title = root.querySelector(".map-title");
      this.wait = root.querySelector(".map-wait");
      this.readout = root.querySelector(".map-readout");
      this.said = root.querySelector("[data-map-said]");
      this.raster = new Raster();
      this.sheets = new Map();
      this.number = this.data.start;
      this.by = this.data.known ? "headroom" : "flow";
      this.edges = this.data.known ? EDGES
        : EDGES.map((_, i) => this.data.most * (BINS - 1 - i) / BINS);
      this.picked = -1;
      this.stretch = null;
      this.pointers = new Map();
      this.listen();
      this.colour();
      this.whole();
      this.show(this.number);
    }

    // --- sheets -------------------------------------------------------------------------
    show(number) {
      const last = this.data.sheets.length - 1;
      this.number = Math.max(0, Math.min(last, number));
      this.picked = -1;
      this.range.value = this.number;
      this.tellSheet();
      this.drawStrip();
      this.fetchNext();
      if (this.sheets.has(this.number)) this.redraw();
    }

    // One request at a time; what is wanted when it comes back is asked for next.
    async fetchNext() {
      if (this.fetching) return;
      this.fetching = true;
      const waiting = setTimeout(() => { this.wait.hidden = false; }, 300);
      try {
        for (let want = this.wanted(); want >= 0; want = this.wanted()) {
          const answer = await fetch(`${this.data.address}${want}?${this.data.query}`);
          if (!answer.ok) throw new Error(`the layer did not come (${answer.status})`);
          this.keep(want, await answer.arrayBuffer());
          if (want === this.number) {
            clearTimeout(waiting);
            this.wait.hidden = true;
            this.redraw();
          }
        }
      } catch (error) {
        this.readout.textContent = `Not drawn: ${error.message}. Load this page again.`;
      } finally {
        clearTimeout(waiting);
        this.wait.hidden = true;
        this.fetching = false;
      }
    }

    wanted() {
      const here = this.number;
      if (!this.sheets.has(here)) return here;
      const full = this.sheets.get(here).n > 300000;
      for (const beside of full ? [] : [here + 1, here - 1, here + 2, here - 2]) {
        if (beside >= 0 && beside < this.data.sheets.length && !this.sheets.has(beside)) return beside;
      }
      return -1;
    }

    keep(number, buffer) {
      const columns = this.data.columns;
      const n = buffer.byteLength / (4 * columns.length);
      const sheet = { n };
      columns.forEach((name, k) => {
        const kind = name === "line" ? Int32Array : Float32Array;
        sheet[name] = new kind(buffer, 4 * n * k, n);
      });
      prepare(sheet, this.edges, this.by);
      this.sheets.set(number, sheet);
      const far = [...this.sheets.keys()].sort((a, b) =>
        Math.abs(b - this.number) - Math.abs(a - this.number));
      while (this.sheets.size > KEPT) this.sheets.delete(far.shift());
    }

    get sheet() { return this.sheets.get(this.number); }

    tellSheet() {
      const [layer, z, headroom, most, time, over] = this.data.sheets[this.number];
      const name = this.data.continuous ? `Around z ${fixed(z, 2)} mm`
        : `Layer ${layer} of ${this.data.sheets.length}, z ${fixed(z, 2)} mm`;
      let words = `${name}: ${span(time)}, up to ${fixed(most, 1)} mm³/s`;
      if (headroom !== null) {
        words += `, headroom ${percent(headroom)}`;
        if (over >= 0.05) words += `, ${fixed(over, 1)} s over the ceiling`;
      }
      this.title.textContent = words;
      this.range.setAttribute("aria-valuetext", words);
      this.plan.setAttribute("aria-label", `Plan of one layer. ${words}`);
    }
  }

  const begin = () => {
    for (const root of document.querySelectorAll("[data-layer-map]")) {
      if (!root.dataset.begun) {
        root.dataset.begun = "1";
        root.layerMap = new LayerMap(root);
      }
    }
  };
  document.addEventListener("DOMContentLoaded", begin);
  document.addEventListener("htmx:afterSettle", begin);
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-sheet]");
    const root = document.querySelector("[data-layer-map]");
    if (!link || !root || !root.layerMap) return;
    event.preventDefault();
    document.getElementById("map").scrollIntoView();
    root.layerMap.plan.focus({ preventScroll: true });
    root.layerMap.goTo({ sheet: Number(link.dataset.sheet), line: Number(link.dataset.line),
                         last: Number(link.dataset.last) });
  });
})();
