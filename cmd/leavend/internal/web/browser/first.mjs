// What stands in the document before any script: the same picture and the same
// hour that the script sets in its place.

import { describe } from 'node:test';
import assert from 'node:assert/strict';
import { ARTEFACTS, AT_ONCE, PAGE, job, kitchen, look, pull, violations, visitor } from './kit.mjs';

// level is where the surface of each vessel lies, in the picture's own units.
const level = (page, root) => page.evaluate((from) => [...document.querySelectorAll(`${from} svg.vessel .dough`)].map((el) => Number(el.getAttribute('d').match(/^M[\d.]+ ([\d.]+)/)[1])), root);

export default () => {
  describe('before the script', AT_ONCE, () => {
    for (const [stage, prepare] of [['as ever', async () => {}], ['just fed, in the fridge, and unknown', async () => {
      await fetch(`${PAGE}/api/vessels/bramble/feeds`, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' });
      await pull('chill', { vessel: 'pilot' });
      await pull('lose', { vessel: 'dough' });
    }]]) {
      job(`the document says and draws what the script does: ${stage}`, async () => {
        await prepare();
        const bare = await visitor({ javaScriptEnabled: false });
        const before = await look(bare);
        const after = await look(await visitor());
        await after.locator('#frame').waitFor({ state: 'detached' });
        const [got, want] = [await level(before, '#frame'), await level(after, '#content')];
        assert.equal(want.length, 3);
        got.forEach((y, v) => assert.ok(Math.abs(y - want[v]) <= 1, `vessel ${v} stands at ${y}, and by the script at ${want[v]}`));
        const said = (page, root) => page.locator(`${root} article`).evaluateAll((all) => all.map((el) => ['h2', '.stage', '.outlook-label', '.outlook-time, .outlook-hour', '.outlook-range', '.advice', '.act button:not([hidden])']
          .map((part) => [...el.querySelectorAll(part)].filter((found) => found.checkVisibility()).map((found) => found.textContent).slice(0, 1).join(''))
          .map((text, i) => (i === 6 && text === 'Undo' ? '' : text))));
        const words = await said(after, '#content');
        for (const [v, texts] of (await said(before, '#frame')).entries()) {
          // Of a day that is not next to this one the document says nothing.
          if (!texts[3]) words[v][3] = '';
          if (!texts[4]) words[v][4] = '';
          const bare = (list) => list.map((text) => text.replace(/\s/g, ' ').replace(/\d\d:\d\d/g, 'hh:mm'));
          assert.deepEqual(bare(texts), bare(words[v]));
          const minutes = (list) => (list.join(' ').match(/\d\d:\d\d/g) || []).map((hour) => hour.slice(0, 2) * 60 + Number(hour.slice(3)));
          minutes(texts).forEach((at, i) => assert.ok(Math.abs(at - minutes(words[v])[i]) <= 10, `${texts} and ${words[v]}`)); // the kitchen's clock goes on, and hours ahead are rounded to ten minutes
        }
        await before.screenshot({ path: `${ARTEFACTS}/first-phone.png`, fullPage: true });
        await bare.close();
        await after.context().close();
      });
    }

    job('a press that comes before the script is done once it is there', async () => {
      const context = await visitor({ serviceWorkers: 'block' });
      const page = await context.newPage();
      let go;
      const held = new Promise((done) => { go = done; });
      await page.route('**/app.js', async (route) => { await held; await route.continue(); });
      await page.route('**/api/now', async (route) => { // the first word of the kitchen's clock comes after the press
        await page.waitForResponse((answer) => answer.request().method() === 'POST', { timeout: 5000 }).catch(() => null); // on a slow machine it came already
        await route.continue().catch(() => null);
      });
      await page.goto(`${PAGE}/#/now`, { waitUntil: 'domcontentloaded' });
      const before = (await kitchen()).feeds.bramble;
      await page.locator('#frame article', { hasText: 'Bramble' }).getByRole('button').click();
      assert.equal((await kitchen()).feeds.bramble, before);
      go();
      await page.getByRole('button', { name: 'Undo: feed of Bramble' }).waitFor();
      assert.equal((await kitchen()).feeds.bramble, before + 1);
      await context.close();
    });

    job('axe finds nothing in the document alone', async () => {
      const context = await visitor({ serviceWorkers: 'block' });
      const page = await context.newPage();
      await page.route('**/app.js', (route) => route.fulfill({ contentType: 'text/javascript', body: '' }));
      await page.goto(`${PAGE}/#/now`);
      assert.deepEqual(await violations(page), []);
      await context.close();
    });
  });
};
