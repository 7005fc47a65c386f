// Draws beads as lines of any width into coverage per pixel. Two hundred thousand short lines
// are stroked in a few hundredths of a second, which paths of a canvas are not.
"use strict";

(() => {
  const BINS = 8;
  const PAPER = BINS; // the broken core of what is over the ceiling
  const FIRST_OVER = 6;

  // Colours as numbers of one pixel, blended with the paper by coverage.
  const table = (colours, paper) => {
    const made = new Uint32Array((BINS + 1) * 256);
    [...colours, paper].forEach((colour, bin) => {
      for (let cover = 0; cover < 256; cover++) {
        const mixed = colour.map((c, i) => Math.round(paper[i] + (c - paper[i]) * cover / 255));
        made[bin * 256 + cover] = (255 << 24) | (mixed[2] << 16) | (mixed[1] << 8) | mixed[0];
      }
    });
    return made;
  };

  // Segments of a sheet in the order they are drawn: by bin, so that the worst lies on top.
  const prepare = (sheet, edges, by) => {
    const n = sheet.n;
    const bins = new Uint8Array(n);
    const count = new Uint32Array(BINS + 1);
    const value = sheet[by];
    for (let i = 0; i < n; i++) {
      let bin = 0;
      const v = value[i];
      if (v === v) while (bin < BINS - 1 && !(v >= edges[bin])) bin++;
      if (by === "flow") bin = BINS - 1 - bin;
      bins[i] = bin;
      count[bin + 1]++;
    }
    for (let b = 0; b < BINS; b++) count[b + 1] += count[b];
    const starts = count.slice();
    const order = new Uint32Array(n);
    for (let i = 0; i < n; i++) order[count[bins[i]]++] = i;
    const along = new Float32Array(n); // how far into a run over the ceiling, mm
    for (let i = 1; i < n; i++) {
      if (bins[i] >= FIRST_OVER && bins[i - 1] >= FIRST_OVER) {
        along[i] = along[i - 1] + Math.hypot(sheet.x1[i - 1] - sheet.x0[i - 1],
          sheet.y1[i - 1] - sheet.y0[i - 1]);
      }
    }
    Object.assign(sheet, { bins, order, starts, along });
  };

  class Raster {
    resize(width, height) {
      if (this.width === width && this.height === height) return;
      this.width = width;
      this.height = height;
      this.cover = new Uint8Array(width * height);
      this.bin = new Uint8Array(width * height);
      this.image = new ImageData(width, height);
      this.pixels = new Uint32Array(this.image.data.buffer);
    }

    // view: x, y of the lower left corner in mm; scale in pixels per mm.
    draw(sheet, view, width, wide, marked, colours) {
      this.cover.fill(0);
      for (let b = 0; b < BINS; b++) {
        const over = marked && b >= FIRST_OVER;
        const line = over ? Math.max(width, wide) : width;
        for (let k = sheet.starts[b]; k < sheet.starts[b + 1]; k++) {
          const i = sheet.order[k];
          this.line((sheet.x0[i] - view.x) * view.scale,
            this.height - (sheet.y0[i] - view.y) * view.scale,
            (sheet.x1[i] - view.x) * view.scale,
            this.height - (sheet.y1[i] - view.y) * view.scale,
            line, b, over ? sheet.along[i] * view.scale : -1, wide);
        }
      }
      const { cover, bin, pixels } = this;
      const empty = colours[PAPER * 256];
      for (let p = 0; p < pixels.length; p++) {
        const c = cover[p];
        pixels[p] = c === 0 ? empty : colours[bin[p] * 256 + c];
      }
      return this.image;
    }

    // One line; `phase` from 0 gives it a broken core, `dash` is the length of its pieces.
    line(ax, ay, bx, by, width, bin, phase, dash) {
      const W = this.width, H = this.height;
      const reach = width + 1;
      if ((ax < -reach && bx < -reach) || (ax > W + reach && bx > W + reach) ||
          (ay < -reach && by < -reach) || (ay > H + reach && by > H + reach)) return;
      const { cover, bin: bins } = this;
      let dx = bx - ax, dy = by - ay;
      const steep = Math.abs(dy) > Math.abs(dx);
      let major = ax, minor = ay, span = dx, rise = dy, across = H, along = W;
      if (steep) { major = ay; minor = ax; span = dy; rise = dx; across = W; along = H; }
      const slope = span === 0 ? 0 : rise / span;
      const stretch = Math.sqrt(1 + slope * slope);
      const half = 0.5 * width * stretch;
      const low = Math.min(major, major + span), high = Math.max(major, major + span);
      const from = Math.max(0, Math.ceil(low - 1)), to = Math.min(along - 1, Math.floor(high));
      const stepMajor = steep ? W : 1, stepMinor = steep ? 1 : W;
      for (let m = from; m <= to; m++) {
        const centre = minor + slope * (Math.min(high, Math.max(low, m + 0.5)) - major);
        const lo = centre - half, hi = centre + half;
        const first = Math.max(0, Math.floor(lo)), last = Math.min(across - 1, Math.ceil(hi) - 1);
        let core = 0;
        if (phase >= 0 && (phase + Math.abs(m - major) * stretch) % (2.4 * dash) < dash) {
          core = 0.4 * half;
        }
        for (let r = first; r <= last; r++) {
          const part = Math.min(hi, r + 1) - Math.max(lo, r);
          const amount = part >= 1 ? 255 : (part * 255) | 0;
          const p = m * stepMajor + r * stepMinor;
          if (core > 0 && Math.abs(r + 0.5 - centre) < core) {
            cover[p] = 255;
            bins[p] = PAPER;
          } else if (amount >= cover[p] || (bin >= FIRST_OVER && amount > 90)) {
            cover[p] = amount;
            bins[p] = bin;
          }
        }
      }
    }
  }

  window.beadworthRaster = { Raster, prepare, table, BINS, FIRST_OVER };
})();
