// Measures a year of one jar from a real store: how long the daemon takes to
// answer, and how long the browser to draw. It reports, and asserts only that
// there was a year to draw.

import { chromium } from 'playwright-core';
import assert from 'node:assert/strict';

const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--headless', '--no-sandbox', '--disable-gpu'] });
const page = await (await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' })).newPage();
await page.goto(`${process.env.PAGE}/#/curve/bramble`);
await page.locator('.chart[data-drawn-ms]').waitFor();
const took = [];
for (let i = 0; i < 5; i += 1) {
  for (const span of ['Week', 'Year']) {
    await page.evaluate(() => { delete document.querySelector('.chart').dataset.drawnMs; performance.clearResourceTimings(); });
    await page.getByRole('button', { name: span, exact: true }).click();
    await page.locator('.chart[data-drawn-ms]').waitFor();
    if (span !== 'Year') continue;
    took.push(await page.evaluate(() => ({
      drawn: Number(document.querySelector('.chart').dataset.drawnMs), points: Number(document.querySelector('.chart').dataset.points),
      answer: performance.getEntriesByType('resource').filter((r) => r.name.includes('window?')).at(-1)?.duration,
    })));
  }
}
console.log(`a year of one jar from the store: ${took.map((t) => `${t.points} points answered in ${Math.round(t.answer)} ms, drawn in ${Math.round(t.drawn)} ms`).join('; ')}`);
assert.ok(took.every((t) => t.points > 300 && t.points <= 2000));
await browser.close();
