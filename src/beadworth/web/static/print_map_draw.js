// How a layer is drawn: the plan with its frame and marks, the strip of all layers.
"use strict";

window.beadworthMap = {};

(() => {
  const { table, BINS } = window.beadworthRaster;
  const MARGIN = { left: 44, right: 12, top: 12, bottom: 28 };

  // a true minus, and no sign on what rounds to nothing
  const fixed = (value, places) =>
    value.toFixed(places).replace(/^-(?=[0.]*$)/, "").replace("-", "\u2212");

  class Drawn {
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
  }

  Object.assign(window.beadworthMap, { Drawn, MARGIN, fixed });
})();
