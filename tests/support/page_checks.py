"""What the browser is asked about a page: is it drawn, does it fit, can it be read and used.

Size and contrast are asked of every page at each width and in each mode, so that they have short
scripts of their own; the accessibility checker answers the rest, seconds for a large page.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

AXE = (Path(__file__).parents[1] / "vendor" / "axe.min.js").read_text(encoding="utf-8")
# Only what is wrong, and would be serious or critical, is wanted: most of the time goes elsewhere;
# what is asked elsewhere, LOOK asks.
# What is inside a drawing is one image to a reader of the page, and thousands of elements to the
# checker, which does not know the colour of a text in it: it is taken out meanwhile.
AXE_RUN = """async () => {
  const elsewhere = ['color-contrast', 'link-in-text-block', 'scrollable-region-focusable'];
  const only = axe._audit.rules.filter((rule) => rule.enabled && !elsewhere.includes(rule.id)
    && !rule.tags.some((tag) => axe._audit.tagExclude.includes(tag))
    && ['serious', 'critical'].includes(rule.impact)).map((rule) => rule.id);
  const drawings = [...document.querySelectorAll('svg')].filter((s) => s.closest('[role=img]'));
  const inside = drawings.map((s) => [...s.childNodes]);
  drawings.forEach((s) => s.replaceChildren());
  try {
    const options = {resultTypes: ['violations'], preload: false, runOnly: only};
    return (await axe.run(document, options)).violations;
  } finally {
    drawings.forEach((s, k) => s.replaceChildren(...inside[k]));
  }
}"""

# Elements that stick out of the viewport, unless an ancestor scrolls them on purpose; places that
# scroll and cannot be reached by the keyboard; texts with too little contrast to what is under
# them (WCAG 2.2, 1.4.3), but those in drawings and of what is disabled; links that differ from the
# text round them by their colour alone, and by little (1.4.1).
LOOK = """() => {
  const out = [];
  const name = (e) => `${e.tagName.toLowerCase()}.${e.getAttribute('class') || ''}`;
  const words = (e) => (e.value || e.textContent).trim().slice(0, 40);

  const wide = document.documentElement.clientWidth + 1;
  const clips = (e) => ['auto', 'scroll', 'hidden'].includes(getComputedStyle(e).overflowX);
  const scrolls = (e) => e && (clips(e) || scrolls(e.parentElement));
  if (document.documentElement.scrollWidth > wide)
    out.push(`page scrolls sideways: ${document.documentElement.scrollWidth} > ${wide - 1}`);
  const whole = new Set([...document.querySelectorAll('svg')].filter(clips));  // nothing sticks out
  const all = [...document.body.querySelectorAll('*')].filter((e) => !whole.has(e.ownerSVGElement));
  for (const e of all) {
    const box = e.getBoundingClientRect();
    if (box.width && box.right > wide && !scrolls(e.parentElement))
      out.push(`${name(e)} ends at ${Math.round(box.right)} px: ${words(e)}`);
  }

  const tabbed = (e) => e.tabIndex >= 0 && !e.disabled && e.getClientRects().length;
  for (const e of all) {
    const more = [e.scrollWidth - e.clientWidth, e.scrollHeight - e.clientHeight];
    if (!e.clientWidth || Math.max(...more) <= 13) continue;
    const style = getComputedStyle(e);
    const moves = [style.overflowX, style.overflowY].map((o) => o === 'auto' || o === 'scroll');
    if (moves.some((m, k) => m && more[k] > 13) && !tabbed(e)
        && ![...e.querySelectorAll('*')].some(tabbed))
      out.push(`${name(e)} scrolls and no key reaches it: ${words(e)}`);
  }

  const pixel = document.createElement('canvas').getContext('2d', {willReadFrequently: true});
  const known = new Map();
  const rgba = (text) => {
    if (known.has(text)) return known.get(text);
    let parts = text.match(/[\\d.]+/g).map(Number);
    if (!text.startsWith('rgb')) {  // mixed in another space
      pixel.clearRect(0, 0, 1, 1);
      pixel.fillStyle = text;
      pixel.fillRect(0, 0, 1, 1);
      parts = [...pixel.getImageData(0, 0, 1, 1).data];
      parts[3] /= 255;
    }
    if (parts.length === 3) parts.push(1);
    known.set(text, parts);
    return parts;
  };
  const over = (top, share, under) => under.map((u, k) => share * top[k] + (1 - share) * u);
  const light = (c) => c.map((v) => v / 255)
    .map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, k) => sum + v * [0.2126, 0.7152, 0.0722][k], 0);
  const grounds = new Map([[null, [255, 255, 255]]]);
  const ground = (e) => {  // null where a picture is the ground
    if (!grounds.has(e)) {
      const style = getComputedStyle(e), colour = rgba(style.backgroundColor);
      const under = colour[3] === 1 ? [0, 0, 0] : ground(e.parentElement);
      const seen = style.backgroundImage === 'none' && under;
      grounds.set(e, seen ? over(colour, colour[3], under) : null);
    }
    return grounds.get(e);
  };
  const faints = new Map([[null, 1]]);
  const faint = (e) => {
    if (!faints.has(e)) faints.set(e, getComputedStyle(e).opacity * faint(e.parentElement));
    return faints.get(e);
  };
  const read = (e, style) => {
    const box = e.getBoundingClientRect(), under = ground(e);
    if (box.width <= 1 || box.height <= 1 || style.visibility !== 'visible' || !under) return;
    const ink = rgba(style.color);
    const shown = over(ink, ink[3] * style.opacity * faint(e.parentElement), under);
    const [low, high] = [light(shown), light(under)].sort((a, b) => a - b);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    const ratio = (high + 0.05) / (low + 0.05);
    if (ratio < (large ? 3 : 4.5))
      out.push(`${name(e)} has a contrast of ${ratio.toFixed(2)}: ${words(e)}`);
  };
  const off = ':disabled, [aria-disabled=true]';
  for (const e of all) {
    if (e.closest('svg') || e.closest(off) || e.querySelector(`:scope ${off}`)) continue;
    const field = e.matches('input, select, textarea');
    const said = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (field && e.placeholder && !e.value) read(e, getComputedStyle(e, '::placeholder'));
    else if (field ? e.value : said) read(e, getComputedStyle(e));
  }

  const inline = (e) => ['inline', 'contents'].includes(getComputedStyle(e).display);
  const block = (e) => inline(e) ? block(e.parentElement) : e;
  const text = (b) => {  // whether a block has words of its own outside links
    const walk = document.createTreeWalker(b, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
      const at = walk.currentNode.parentElement;
      if (walk.currentNode.data.trim() && !at.closest('a[href]') && block(at) === b) return true;
    }
    return false;
  };
  const by = ['textDecorationLine', 'fontWeight', 'fontSize', 'fontFamily', 'backgroundColor',
    'backgroundImage', 'borderBottomStyle'];
  for (const e of document.querySelectorAll('a[href]')) {
    if (!e.textContent.trim() || !e.getClientRects().length || !inline(e)) continue;
    const round = block(e), mine = getComputedStyle(e), theirs = getComputedStyle(round);
    if (by.some((one) => mine[one] !== theirs[one]) || !text(round)) continue;
    const [low, high] = [mine, theirs].map((s) => light(rgba(s.color).slice(0, 3)))
      .sort((a, b) => a - b);
    if ((high + 0.05) / (low + 0.05) < 3)
      out.push(`${name(e)} is told from its text by colour alone: ${words(e)}`);
  }
  return out;
}"""

# Charts of this width are drawn by the chart library, those that came drawn are taken away: what is
# on the screen, and wherever it stands what no page of this server has had drawn before.
DRAWN = """async () => {
  const pause = (ms) => new Promise((done) => setTimeout(done, ms));
  const charts = [...document.querySelectorAll('[data-chart]')];
  const waits = (chart) => chart.offsetParent && !chart.querySelector('.chart-live');
  const digest = async (chart) => {
    const spec = new TextEncoder().encode(chart.querySelector('script.spec').textContent);
    return 'drawn ' + new Uint32Array(await crypto.subtle.digest('SHA-256', spec)).join();
  };
  await pause(40);  // the page has heard of its new size
  if (typeof htmx === 'undefined' || !document.querySelector('[data-libraries]')) return true;
  const asked = new Map();
  for (const chart of charts.filter(waits)) {
    const name = await digest(chart);
    if (localStorage.getItem(name)) continue;
    asked.set(chart, name);
    chart.dispatchEvent(new Event('chart:draw', {bubbles: true}));
  }
  const onScreen = (chart) => {
    const box = chart.getBoundingClientRect();
    return box.bottom > 0 && box.top < innerHeight;
  };
  const due = (chart) => waits(chart) && (asked.has(chart) || onScreen(chart));
  for (let n = 0; n < 4000; n += 1) {
    if (!charts.some(due)) {
      asked.forEach((name) => localStorage.setItem(name, '1'));
      return true;
    }
    await pause(10);
  }
  return false;
}"""


def until(page: Any, script: str, value: Any = True, patience_s: float = 40.0) -> None:
    """Wait until what a script says is this value.

    The page asks itself: asked from here again and again, browser and driver are busy all the
    time; and the pages' policy forbids the browser's own waiting for text. Where the page is left
    meanwhile, the next one is asked.
    """
    from playwright.sync_api import Error

    waiting = f"""async ([value, last]) => {{
      while (({script}) !== value) {{
        if (Date.now() > last) return false;
        await new Promise((done) => setTimeout(done, 25));
      }}
      return true;
    }}"""
    last = time.time() + patience_s
    while True:
        try:
            assert page.evaluate(waiting, [value, 1000 * last]), (script, page.evaluate(script))
            return
        except Error as error:
            if "navigation" not in str(error) or time.time() > last:
                raise


def open_tab(page: Any, name: str) -> None:
    """Open a tab of the trial page and let what it fetches come."""
    page.locator(".tab-nav").get_by_role("link", name=name).click()
    page.locator(".tab-nav a[aria-current]", has_text=name).wait_for()
    page.locator(".tab-body .busy.shown").wait_for(state="detached", timeout=60_000)
