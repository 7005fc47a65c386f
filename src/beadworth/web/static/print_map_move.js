// Moving about in the plan: nearer, farther, along the beads, from layer to layer; keys, mouse, fingers.
"use strict";

(() => {
  const { Asked, MARGIN } = window.beadworthMap;
  const MAX_SCALE = 400; // px per mm

  class Moved extends Asked {
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
      // Layers as a slider of the ARIA Authoring Practices has its pages and ends.
      const last = this.data.sheets.length - 1;
      const does = {
        ArrowLeft: () => this.move(60, 0), ArrowRight: () => this.move(-60, 0),
        ArrowUp: () => this.move(0, 60), ArrowDown: () => this.move(0, -60),
        PageUp: () => this.leaf(1), PageDown: () => this.leaf(-1),
        Home: () => this.leaf(-last), End: () => this.leaf(last),
        n: () => this.step(1), p: () => this.step(-1),
        "+": () => this.zoom(1.5), "=": () => this.zoom(1.5), "-": () => this.zoom(1 / 1.5),
        0: () => { this.whole(); this.redraw(); },
      }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (!does) return;
      does();
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
      this.plan.addEventListener("pointerleave", (event) => {
        if (event.pointerType !== "touch" && document.activeElement !== this.plan) this.pick(-1);
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

  Object.assign(window.beadworthMap, { Moved });
})();
