// What the browser tests share: Chromium, pages that note every complaint of
// the browser, and the strings that move the invented kitchen.

import fs from 'node:fs';
import { createRequire } from 'node:module';
import test from 'node:test';
import assert from 'node:assert/strict';
import { AsyncLocalStorage } from 'node:async_hooks';
import { chromium } from 'playwright-core';

export const { LAN, LAN_STRINGS, SECURE, PLAIN, ARTEFACTS } = process.env;

// Several kitchens are served, so that several tests can go on at once, each
// in one of its own. PAGE and STRINGS are the addresses of the one that the
// running test has.
const kitchens = JSON.parse(process.env.KITCHENS);
const running = new AsyncLocalStorage();
export const PAGE = { toString: () => running.getStore().page };
export const STRINGS = { toString: () => running.getStore().strings };
export const AT_ONCE = { concurrency: kitchens.length };

// A name that is no localhost is no secure context, like the board's own name
// in the house; the browser is told that it is here.
export const BARE = '192.0.2.1';
const FLAGS = ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync',
  `--host-resolver-rules=MAP ${BARE} 127.0.0.1`];
export const SCREENS = ['now', 'curve', 'feeds', 'plan', 'mat', 'setup', 'starter'];
export const PATIENCE = 60_000; // a busy machine is slow, not wrong

// The one browser of all tests. Each visitor in it is a stranger to the others.
let opened = null;
const browser = () => { opened ||= chromium.launch({ executablePath: '/usr/bin/chromium', args: FLAGS }); return opened; };
test.after(async () => { if (opened) await (await opened).close(); });

const free = kitchens.map((k) => ({ ...k, complaints: [] }));
const waiting = [];

async function take() {
  if (free.length) return free.pop();
  return new Promise((resolve) => { waiting.push(resolve); });
}

function give(k) {
  const next = waiting.shift();
  if (next) next(k);
  else free.push(k);
}

// job is a test with a kitchen of its own, fresh at the start, in which the
// browser has nothing to complain of. One that hangs fails, and the others go on.
export const job = (name, act) => test(name, { timeout: 180_000 }, async (t) => {
  const k = await take();
  k.complaints = [];
  try {
    await running.run(k, async () => {
      await pull('reset');
      await act(t);
    });
    assert.deepEqual(k.complaints, [], 'the browser complained');
  } finally {
    give(k);
  }
});

// forgive forgets what the browser has complained of so far: it was asked for.
export const forgive = () => { running.getStore().complaints.length = 0; };

// visitor opens a browser of its own: nothing is shared with another.
export async function visitor(options = {}) {
  const context = await (await browser()).newContext({ viewport: { width: 390, height: 844 }, locale: 'en-GB', colorScheme: 'light', ...options });
  context.setDefaultTimeout(PATIENCE);
  return context;
}

// look opens a page and remembers each error, warning and breach of the
// content policy. expected may excuse some, such as a failed request while the
// daemon is away.
export async function look(context, url = `${PAGE}/#/now`, expected = null) {
  const page = await context.newPage();
  const { complaints } = running.getStore();
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

// report says a figure in the test's output and in a file, for a test run that
// passes shows no output.
export function report(t, text) {
  t.diagnostic(text);
  fs.appendFileSync(`${ARTEFACTS}/measured.txt`, `${text}\n`);
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

// By night the page is the same document in other colours, so only the rules
// about colours are asked again.
const OF_COLOUR = ['color-contrast', 'link-in-text-block'];

// violations are what axe finds on a page.
export async function violations(page, colorScheme = 'light') {
  // The page's own policy forbids foreign script, so axe goes in by the debugger.
  await page.evaluate(axe);
  const { violations: found } = await page.evaluate((rules) => window.axe.run(document, { resultTypes: ['violations'], ...(rules ? { runOnly: rules } : {}) }), colorScheme === 'dark' ? OF_COLOUR : null);
  return found.map((v) => `${v.id}: ${v.nodes.map((n) => `${n.target.join(' ')} ${n.any.concat(n.all, n.none).map((c) => c.message).join('; ')}`).join(' | ')}`);
}
