// What a bead answers: which one is near a place, and what it says.
"use strict";

(() => {
  const { Drawn, MARGIN, fixed } = window.beadworthMap;
  const NEAR_PX = 10; // how far from a bead it still answers

  const percent = (value) => `${fixed(value * 100, Math.abs(value) < 0.1 ? 1 : 0)}\u00a0%`;

  class Asked extends Drawn {
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
  }

  Object.assign(window.beadworthMap, { Asked, percent });
})();
