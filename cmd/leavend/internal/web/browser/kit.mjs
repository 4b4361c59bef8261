// What the browser tests share: Chromium, pages that note every complaint of
// the browser, and the strings that move the invented kitchen.

import fs from 'node:fs';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';
import assert from 'node:assert/strict';

export const { PAGE, STRINGS, LAN, LAN_STRINGS, SECURE, ARTEFACTS } = process.env;

const FLAGS = ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
export const SCREENS = ['now', 'curve', 'feeds', 'warmth', 'setup'];
export const PATIENCE = 30_000; // a busy machine is slow, not wrong

export const launch = () => chromium.launch({ executablePath: '/usr/bin/chromium', args: FLAGS });

export const complaints = [];

// visitor opens a browser of its own: nothing is shared with another.
export async function visitor(browser, options = {}) {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, locale: 'en-GB', colorScheme: 'light', ...options });
  context.setDefaultTimeout(PATIENCE);
  return context;
}

// look opens a page and remembers each error, warning and breach of the
// content policy. expected may excuse some, such as a failed request while the
// daemon is away.
export async function look(context, url = `${PAGE}/#/now`, expected = null) {
  const page = await context.newPage();
  const note = (text) => { if (!/willReadFrequently/.test(text) && !expected?.test(text)) complaints.push(text); }; // the former is of our own reading of pixels
  page.on('console', (m) => { if (['error', 'warning'].includes(m.type())) note(`${m.type()}: ${m.text()}`); });
  page.on('pageerror', (e) => note(`error: ${e.message}`));
  await page.goto(url);
  await page.locator('main > *').first().waitFor();
  return page;
}

export async function pull(name, args = {}, base = STRINGS) {
  const reply = await fetch(`${base}/${name}?${new URLSearchParams(args)}`);
  assert.equal(reply.status, 200);
  return reply.json();
}

export const kitchen = (base) => pull('state', {}, base);

// until waits for a condition outside the page.
export async function until(what, test) {
  const end = Date.now() + PATIENCE;
  for (;;) {
    const got = await test();
    if (got) return got;
    if (Date.now() > end) assert.fail(`waited in vain: ${what}`);
    await new Promise((r) => setTimeout(r, 60));
  }
}

// pixels reads the chart's canvas and finds those near a colour of the house:
// their number, their columns, and the mean height of the leftmost and
// rightmost tenth.
export const pixels = (page, variable) => page.evaluate((name) => {
  const canvas = document.querySelector('.chart canvas');
  const probe = document.createElement('span');
  document.body.append(probe);
  probe.style.color = `var(--${name})`;
  const [r, g, b] = getComputedStyle(probe).color.match(/\d+/g).map(Number);
  probe.remove();
  const { data, width, height } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  const found = [];
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 3] > 200 && Math.abs(data[i] - r) + Math.abs(data[i + 1] - g) + Math.abs(data[i + 2] - b) < 24) found.push([(i / 4) % width, Math.floor(i / 4 / width)]);
  }
  const xs = new Set(found.map(([x]) => x));
  const mean = (list) => list.reduce((s, [, y]) => s + y, 0) / list.length;
  return { count: found.length, columns: xs.size, width, height, found: found.slice(0, 40_000), mean: found.length ? mean(found) : null };
}, variable);

const axe = fs.readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

// violations are what axe finds on a page.
export async function violations(page) {
  // The page's own policy forbids foreign script, so axe goes in by the debugger.
  await page.evaluate(axe);
  const { violations: found } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  return found.map((v) => `${v.id}: ${v.nodes.map((n) => `${n.target.join(' ')} ${n.any.concat(n.all, n.none).map((c) => c.message).join('; ')}`).join(' | ')}`);
}
