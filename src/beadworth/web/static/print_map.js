// The plan of one layer: fetch its beads, draw them, let them be asked. What is drawn was worked
// out by the server; here it is only shown.
"use strict";

(() => {
  const { Raster, prepare, table, BINS, FIRST_OVER } = window.beadworthRaster;
  const EDGES = [2, 1, 0.5, 0.25, 0.1, 0, -0.1]; // headroom at the marks of the ruler
  const MARGIN = { left: 44, right: 12, top: 12, bottom: 28 };
  const KEPT = 12; // sheets kept here
  const NEAR_PX = 10; // how far from a bead it still answers
  const MAX_SCALE = 400; // px per mm

  const fixed = (value, places) => value.toFixed(places).replace("-", "\u2212");
  const percent = (value) => `${fixed(value * 100, Math.abs(value) < 0.1 ? 1 : 0)} %`;
  const span = (seconds) => seconds < 90 ? `${fixed(seconds, 0)} s` : seconds < 5400
    ? `${Math.round(seconds / 60)} min`
    : `${Math.floor(seconds / 3600)} h ${String(Math.round(seconds / 60) % 60).padStart(2, "0")} min`;

  class LayerMap {
    constructor(root) {
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

    // --- drawing ------------------------------------------------------------------------
    colour() {
      const style = getComputedStyle(this.root);
      const probe = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
      const of = (name) => {
        probe.fillStyle = style.getPropertyValue(name).trim();
        probe.fillRect(0, 0, 1, 1);
        return [...probe.getImageData(0, 0, 1, 1).data.slice(0, 3)];
      };
      const steps = Array.from({ length: BINS }, (_, i) => of(`--map-${i + 1}`));
      this.colours = table(steps, of("--map-paper"));
      this.css = {};
      for (const name of ["ink", "ink-soft", "rule", "rule-strong", "paper", "accent", "map-paper"]) {
        this.css[name] = style.getPropertyValue(`--${name}`).trim();
      }
      this.steps = Array.from({ length: BINS }, (_, i) => style.getPropertyValue(`--map-${i + 1}`).trim());
    }

    size(canvas, height) {
      const ratio = Math.min(2, window.devicePixelRatio || 1);
      const width = canvas.clientWidth;
      const w = Math.round(width * ratio), h = Math.round(height * ratio);
      if (canvas.width !== w || canvas.height !== h) {
        canvas.width = w;
        canvas.height = h;
      }
      return { ratio, width, height };
    }

    inner() {
      const width = this.plan.clientWidth, height = this.plan.clientHeight;
      return { w: Math.max(10, width - MARGIN.left - MARGIN.right),
               h: Math.max(10, height - MARGIN.top - MARGIN.bottom) };
    }

    whole() {
      const [low, high] = this.data.box || [[0, 0, 0], [10, 10, 10]];
      const { w, h } = this.inner();
      const wide = Math.max(1, high[0] - low[0]), deep = Math.max(1, high[1] - low[1]);
      this.least = Math.min(w / (wide * 1.06 + 1), h / (deep * 1.06 + 1));
      this.view = { cx: (low[0] + high[0]) / 2, cy: (low[1] + high[1]) / 2, scale: this.least };
      this.touch();
    }

    touch() { this.plan.style.touchAction = this.view.scale > this.least * 1.01 ? "none" : "pan-y"; }

    redraw() {
      if (this.asked) return;
      this.asked = requestAnimationFrame(() => {
        this.asked = 0;
        const start = performance.now();
        this.drawPlan();
        performance.measure("layer map redraw", { start, end: performance.now() });
        if (performance.getEntriesByName("layer map redraw").length > 500) {
          performance.clearMeasures("layer map redraw");
        }
      });
    }

    drawPlan() {
      const { ratio, width, height } = this.size(this.plan, this.plan.clientHeight);
      const { w, h } = this.inner();
      const pen = this.plan.getContext("2d");
      pen.setTransform(1, 0, 0, 1, 0, 0);
      pen.fillStyle = this.css["map-paper"];
      pen.fillRect(0, 0, this.plan.width, this.plan.height);
      const { cx, cy, scale } = this.view;
      this.corner = { x: cx - w / 2 / scale, y: cy - h / 2 / scale };
      const sheet = this.sheet;
      if (sheet) {
        this.raster.resize(Math.round(w * ratio), Math.round(h * ratio));
        const bead = Math.max(1.25, 0.92 * this.data.bead_mm * scale) * ratio;
        const image = this.raster.draw(sheet, { ...this.corner, scale: scale * ratio }, bead,
          3.4 * ratio, this.data.known, this.colours);
        pen.putImageData(image, Math.round(MARGIN.left * ratio), Math.round(MARGIN.top * ratio));
      }
      pen.setTransform(ratio, 0, 0, ratio, 0, 0);
      this.drawFrame(pen, width, height, w, h);
      if (sheet) this.drawMarks(pen, w, h);
    }

    // A neat line with millimetres along two sides, as on a map.
    drawFrame(pen, width, height, w, h) {
      const { left, top } = MARGIN;
      pen.strokeStyle = this.css["rule-strong"];
      pen.lineWidth = 1;
      pen.strokeRect(left - 0.5, top - 0.5, w + 1, h + 1);
      pen.strokeRect(left - 4.5, top - 4.5, w + 9, h + 9);
      const rough = 70 / this.view.scale;
      const ten = 10 ** Math.floor(Math.log10(rough));
      const step = [1, 2, 5, 10].map((k) => k * ten).find((s) => s >= rough);
      const places = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
      pen.fillStyle = this.css["ink-soft"];
      pen.font = "11px Arial, Liberation Sans, Helvetica, sans-serif";
      pen.textAlign = "center";
      pen.textBaseline = "top";
      pen.beginPath();
      for (let x = Math.ceil(this.corner.x / step) * step; ; x += step) {
        const px = left + (x - this.corner.x) * this.view.scale;
        if (px > left + w) break;
        pen.moveTo(px, top + h);
        pen.lineTo(px, top + h + 5);
        if (px > left + 14 && px < left + w - 34) pen.fillText(fixed(x, places), px, top + h + 9);
      }
      pen.textAlign = "right";
      pen.fillText("x, mm", left + w + 6, top + h + 9);
      pen.textBaseline = "middle";
      for (let y = Math.ceil(this.corner.y / step) * step; ; y += step) {
        const py = top + h - (y - this.corner.y) * this.view.scale;
        if (py < top) break;
        pen.moveTo(left - 5, py);
        pen.lineTo(left, py);
        if (py > top + 22 && py < top + h - 4) pen.fillText(fixed(y, places), left - 9, py);
      }
      pen.fillText("y, mm", left - 9, top + 7);
      pen.stroke();
    }

    at(x, y) {
      return [MARGIN.left + (x - this.corner.x) * this.view.scale,
              MARGIN.top + this.inner().h - (y - this.corner.y) * this.view.scale];
    }

    drawMarks(pen, w, h) {
      pen.save();
      pen.beginPath();
      pen.rect(MARGIN.left, MARGIN.top, w, h);
      pen.clip();
      const s = this.sheet;
      if (this.stretch && this.stretch.sheet === this.number) {
        const box = this.boxOf(this.stretch);
        if (box) {
          const [ax, ay] = this.at(box[0], box[3]), [bx, by] = this.at(box[2], box[1]);
          pen.strokeStyle = this.css.accent;
          pen.lineWidth = 2;
          pen.setLineDash([6, 4]);
          pen.strokeRect(ax - 9, ay - 9, bx - ax + 18, by - ay + 18);
          pen.setLineDash([]);
        }
      }
      if (this.picked >= 0 && this.picked < s.n) {
        const [ax, ay] = this.at(s.x0[this.picked], s.y0[this.picked]);
        const [bx, by] = this.at(s.x1[this.picked], s.y1[this.picked]);
        for (const [colour, line] of [[this.css.paper, 9], [this.css.ink, 5]]) {
          pen.strokeStyle = colour;
          pen.lineWidth = line;
          pen.lineCap = "round";
          pen.beginPath();
          pen.moveTo(ax, ay);
          pen.lineTo(bx, by);
          pen.stroke();
        }
      }
      pen.restore();
    }

    boxOf({ line, last }) {
      const s = this.sheet;
      let box = null;
      for (let i = 0; i < s.n; i++) {
        if (s.line[i] < line || s.line[i] > last) continue;
        box = box || [Infinity, Infinity, -Infinity, -Infinity];
        box[0] = Math.min(box[0], s.x0[i], s.x1[i]);
        box[1] = Math.min(box[1], s.y0[i], s.y1[i]);
        box[2] = Math.max(box[2], s.x0[i], s.x1[i]);
        box[3] = Math.max(box[3], s.y0[i], s.y1[i]);
      }
      return box;
    }

    // Every layer as a column: how much of the ceiling its worst bead asks for.
    drawStrip() {
      const { ratio, width, height } = this.size(this.strip, 56);
      const pen = this.strip.getContext("2d");
      pen.setTransform(ratio, 0, 0, ratio, 0, 0);
      pen.clearRect(0, 0, width, height);
      const all = this.data.sheets, n = all.length;
      const top = 1.25, floor = height - 1;
      const y = (share) => floor - Math.min(share, top) / top * (height - 8);
      const columns = Math.max(1, Math.min(n, Math.floor(width / 2)));
      for (let c = 0; c < columns; c++) {
        let share = 0, worst = Infinity;
        for (let i = Math.floor(c * n / columns); i < Math.floor((c + 1) * n / columns); i++) {
          const head = all[i][2] === null ? Infinity : all[i][2];
          worst = Math.min(worst, head);
          share = Math.max(share, this.data.known ? 1 / (1 + head) : all[i][3] / this.data.most);
        }
        const value = this.data.known ? worst : share * this.data.most;
        let bin = this.edges.findIndex((edge) => value >= edge);
        if (bin < 0) bin = BINS - 1;
        pen.fillStyle = this.steps[this.data.known ? bin : BINS - 1 - bin];
        const x = c * width / columns, wide = Math.max(1, width / columns - (columns < width / 5 ? 1 : 0));
        pen.fillRect(x, y(share), wide, floor - y(share));
      }
      pen.fillStyle = this.css["rule-strong"];
      pen.fillRect(0, floor, width, 1);
      if (this.data.known) {
        pen.strokeStyle = this.css.ink;
        pen.setLineDash([4, 3]);
        pen.beginPath();
        pen.moveTo(0, Math.round(y(1)) + 0.5);
        pen.lineTo(width, Math.round(y(1)) + 0.5);
        pen.stroke();
        pen.setLineDash([]);
      }
      const here = (this.number + 0.5) * width / n;
      pen.fillStyle = this.css.ink;
      pen.fillRect(Math.round(here) - 1, 0, 2, height);
      pen.beginPath();
      pen.moveTo(here - 6, 0);
      pen.lineTo(here + 6, 0);
      pen.lineTo(here, 7);
      pen.fill();
    }

    // --- asking -------------------------------------------------------------------------
    grid() {
      const s = this.sheet;
      if (s.grid) return s.grid;
      const [low, high] = this.data.box;
      const x = low[0] - 1, y = low[1] - 1;
      const cell = Math.max(0.25, Math.max(high[0] - low[0] + 2, high[1] - low[1] + 2) / 160);
      const across = Math.ceil((high[0] + 1 - x) / cell) + 1;
      const down = Math.ceil((high[1] + 1 - y) / cell) + 1;
      const visit = (i, put) => {
        const steps = Math.max(1, Math.ceil(2 * Math.hypot(s.x1[i] - s.x0[i], s.y1[i] - s.y0[i]) / cell));
        let before = -1;
        for (let k = 0; k <= steps; k++) {
          const u = s.x0[i] + (s.x1[i] - s.x0[i]) * k / steps;
          const v = s.y0[i] + (s.y1[i] - s.y0[i]) * k / steps;
          const c = Math.max(0, Math.min(across - 1, Math.floor((u - x) / cell)))
            + across * Math.max(0, Math.min(down - 1, Math.floor((v - y) / cell)));
          if (c !== before) put(c, i);
          before = c;
        }
      };
      const starts = new Uint32Array(across * down + 1);
      for (let i = 0; i < s.n; i++) visit(i, (c) => { starts[c + 1]++; });
      for (let c = 0; c < across * down; c++) starts[c + 1] += starts[c];
      const place = starts.slice();
      const items = new Uint32Array(starts[across * down]);
      for (let i = 0; i < s.n; i++) visit(i, (c, k) => { items[place[c]++] = k; });
      s.grid = { x, y, cell, across, down, starts, items };
      return s.grid;
    }

    nearest(px, py) {
      const s = this.sheet;
      if (!s || !s.n || !this.data.box) return -1;
      const g = this.grid();
      const u = this.corner.x + (px - MARGIN.left) / this.view.scale;
      const v = this.corner.y + (MARGIN.top + this.inner().h - py) / this.view.scale;
      const reach = NEAR_PX / this.view.scale;
      let best = reach * reach, found = -1;
      const clip = (value, most) => Math.max(0, Math.min(most - 1, value));
      const c0 = clip(Math.floor((u - reach - g.x) / g.cell), g.across);
      const c1 = clip(Math.floor((u + reach - g.x) / g.cell), g.across);
      const r0 = clip(Math.floor((v - reach - g.y) / g.cell), g.down);
      const r1 = clip(Math.floor((v + reach - g.y) / g.cell), g.down);
      for (let r = r0; r <= r1; r++) {
        for (let c = c0; c <= c1; c++) {
          for (let k = g.starts[r * g.across + c]; k < g.starts[r * g.across + c + 1]; k++) {
            const i = g.items[k];
            const dx = s.x1[i] - s.x0[i], dy = s.y1[i] - s.y0[i];
            const long = dx * dx + dy * dy;
            let t = long ? ((u - s.x0[i]) * dx + (v - s.y0[i]) * dy) / long : 0;
            t = Math.max(0, Math.min(1, t));
            const d = (s.x0[i] + t * dx - u) ** 2 + (s.y0[i] + t * dy - v) ** 2;
            if (d < best) { best = d; found = i; }
          }
        }
      }
      return found;
    }

    pick(i, aloud) {
      if (i !== this.picked) {
        this.picked = i;
        this.redraw();
      }
      const words = i < 0 ? this.readout.dataset.empty : this.words(i);
      if (this.readout.textContent !== words) this.readout.textContent = words;
      if (aloud) this.said.textContent = i < 0 ? "" : words;
    }

    words(i) {
      const s = this.sheet;
      const parts = [`Line ${s.line[i]}: ${fixed(s.speed[i], 0)} mm/s`,
        `${fixed(s.flow[i], 1)} mm³/s asked for, ${fixed(s.out[i], 1)} out of the nozzle`];
      const head = s.headroom[i];
      if (head === head) {
        parts.push(`ceiling ${fixed(s.flow[i] * (1 + head), 1)} at ${fixed(s.c[i], 0)} °C`);
        parts.push(head >= 0 ? `headroom ${percent(head)}` : `over the ceiling, headroom ${percent(head)}`);
      }
      if (s.loss[i] === s.loss[i]) {
        parts.push(`loss ${percent(Math.max(0, s.loss[i]))} (${percent(Math.max(0, s.loss_low[i]))} to ${percent(Math.max(0, s.loss_high[i]))})`);
      }
      return `${parts.join("; ")}.`;
    }

    // --- moving about -------------------------------------------------------------------
    zoom(factor, px, py) {
      const { w, h } = this.inner();
      const at = { x: (px ?? MARGIN.left + w / 2) - MARGIN.left - w / 2,
                   y: MARGIN.top + h / 2 - (py ?? MARGIN.top + h / 2) };
      const before = this.view.scale;
      const scale = Math.max(this.least, Math.min(MAX_SCALE, before * factor));
      if (scale === this.least) { this.whole(); this.redraw(); return; }
      this.view.cx += at.x / before - at.x / scale;
      this.view.cy += at.y / before - at.y / scale;
      this.view.scale = scale;
      this.touch();
      this.redraw();
    }

    move(dx, dy) {
      const [low, high] = this.data.box || [[0, 0], [0, 0]];
      this.view.cx = Math.max(low[0], Math.min(high[0], this.view.cx - dx / this.view.scale));
      this.view.cy = Math.max(low[1], Math.min(high[1], this.view.cy + dy / this.view.scale));
      this.redraw();
    }

    async goTo(stretch) {
      this.stretch = stretch;
      this.show(stretch.sheet);
      for (let tries = 0; !this.sheet && tries < 600; tries++) {
        await new Promise((done) => { setTimeout(done, 50); });
      }
      if (!this.sheet || this.number !== stretch.sheet) return;
      const box = this.boxOf(stretch);
      if (box) {
        const { w, h } = this.inner();
        const wide = Math.max(12, (box[2] - box[0]) * 1.5), deep = Math.max(12, (box[3] - box[1]) * 1.5);
        this.view = { cx: (box[0] + box[2]) / 2, cy: (box[1] + box[3]) / 2,
                      scale: Math.max(this.least, Math.min(w / wide, h / deep)) };
        this.touch();
        let worst = -1;
        for (let i = 0; i < this.sheet.n; i++) {
          const inside = this.sheet.line[i] >= stretch.line && this.sheet.line[i] <= stretch.last;
          if (inside && (worst < 0 || this.sheet.headroom[i] < this.sheet.headroom[worst])) worst = i;
        }
        this.pick(worst, true);
      }
      this.redraw();
    }

    step(by) {
      const s = this.sheet;
      if (!s || !s.n) return;
      const next = this.picked < 0 ? (by > 0 ? 0 : s.n - 1) : (this.picked + by + s.n) % s.n;
      const [x, y] = this.at(s.x1[next], s.y1[next]);
      const { w, h } = this.inner();
      if (x < MARGIN.left || x > MARGIN.left + w || y < MARGIN.top || y > MARGIN.top + h) {
        this.view.cx = s.x1[next];
        this.view.cy = s.y1[next];
      }
      this.pick(next, true);
      this.redraw();
    }

    key(event) {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const hop = Math.max(1, Math.round(this.data.sheets.length / 10));
      const pan = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };
      if (event.shiftKey && pan[event.key]) {
        this.move(...pan[event.key]);
      } else {
        const does = {
          ArrowLeft: () => this.step(-1), ArrowRight: () => this.step(1),
          ArrowUp: () => this.leaf(1), ArrowDown: () => this.leaf(-1),
          PageUp: () => this.leaf(hop), PageDown: () => this.leaf(-hop),
          Home: () => this.show(0), End: () => this.show(this.data.sheets.length - 1),
          "+": () => this.zoom(1.5), "=": () => this.zoom(1.5), "-": () => this.zoom(1 / 1.5),
          0: () => { this.whole(); this.redraw(); },
        }[event.key];
        if (!does) return;
        does();
      }
      event.preventDefault();
    }

    leaf(by) {
      this.show(this.number + by);
      this.readout.textContent = this.readout.dataset.empty;
      this.said.textContent = this.title.textContent;
    }

    listen() {
      this.range.addEventListener("input", () => {
        this.show(Number(this.range.value));
        this.readout.textContent = this.readout.dataset.empty;
      });
      const along = (event) => {
        if (event.type === "pointermove" && !event.buttons) return;
        const share = event.offsetX / this.strip.clientWidth;
        this.show(Math.floor(share * this.data.sheets.length));
      };
      this.strip.addEventListener("pointerdown", along);
      this.strip.addEventListener("pointermove", along);
      this.plan.addEventListener("keydown", (event) => this.key(event));
      this.plan.addEventListener("pointerdown", (event) => this.down(event));
      this.plan.addEventListener("pointermove", (event) => this.dragged(event));
      for (const name of ["pointerup", "pointercancel"]) {
        this.plan.addEventListener(name, (event) => this.up(event));
      }
      this.plan.addEventListener("pointerleave", () => {
        if (document.activeElement !== this.plan) this.pick(-1);
      });
      this.plan.addEventListener("wheel", (event) => {
        if (document.activeElement !== this.plan && !event.ctrlKey && !event.metaKey) return;
        event.preventDefault();
        this.zoom(Math.exp(-event.deltaY * 0.0015), event.offsetX, event.offsetY);
      }, { passive: false });
      for (const button of this.root.querySelectorAll("[data-zoom]")) {
        button.addEventListener("click", () => {
          const factor = Number(button.dataset.zoom);
          if (factor) this.zoom(factor);
          else { this.whole(); this.redraw(); }
        });
      }
      let width = 0;
      new ResizeObserver(() => {
        if (this.plan.clientWidth === width) return;
        width = this.plan.clientWidth;
        this.whole();
        this.drawStrip();
        this.redraw();
      }).observe(this.plan);
      matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
        this.colour();
        this.drawStrip();
        this.redraw();
      });
    }

    down(event) {
      this.pointers.set(event.pointerId, [event.offsetX, event.offsetY]);
      this.moved = false;
      if (event.pointerType !== "touch") this.plan.setPointerCapture(event.pointerId);
    }

    dragged(event) {
      const here = [event.offsetX, event.offsetY];
      const before = this.pointers.get(event.pointerId);
      if (!before) {
        if (event.pointerType === "mouse") this.pick(this.nearest(...here));
        return;
      }
      const other = [...this.pointers].find(([id]) => id !== event.pointerId);
      if (other) {
        const gap = (p) => Math.hypot(p[0] - other[1][0], p[1] - other[1][1]);
        this.zoom(gap(here) / Math.max(1, gap(before)), other[1][0], other[1][1]);
        this.moved = true;
      } else if (this.moved || Math.hypot(here[0] - before[0], here[1] - before[1]) > 4) {
        if (event.pointerType === "mouse" || this.view.scale > this.least * 1.01) {
          this.move(here[0] - before[0], here[1] - before[1]);
        }
        this.moved = true;
      } else {
        return;
      }
      this.pointers.set(event.pointerId, here);
    }

    up(event) {
      if (!this.pointers.delete(event.pointerId) || this.moved || event.type === "pointercancel") return;
      this.pick(this.nearest(event.offsetX, event.offsetY), event.pointerType !== "mouse");
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
