// How the page looks, weighs and reads: axe, sizes, keyboard, screenshots.

import { describe } from 'node:test';
import assert from 'node:assert/strict';
import { ARTEFACTS, AT_ONCE, PAGE, SCREENS, job, look, pull, report, violations, visitor } from './kit.mjs';

async function settled(page, screen) {
  await page.goto(`${PAGE}/#/${screen}`);
  await page.locator(`body[data-screen="${screen}"] main h1`).waitFor();
  if (screen === 'curve') await page.locator('.chart[data-drawn-ms] canvas').waitFor();
  if (screen === 'feeds') await page.locator('.chart[data-lines] canvas').waitFor();
  if (screen === 'setup') await page.getByText('All checks').waitFor();
  if (screen === 'now') await page.locator('article').first().waitFor();
  if (screen === 'mat') await page.getByRole('region', { name: 'Shelf mat' }).waitFor();
  await page.evaluate(() => document.fonts.ready);
}

// everything opens all that is folded away and shows a screen with all that
// can be on it: a fault that holds, a message to be seen, a target time, a plan.
async function everything(page) {
  await pull('ask');
  await pull('trip', { holds: '1' });
  await page.evaluate(() => fetch('api/vessels/bramble/wish', { method: 'PUT', headers: { 'Content-Type': 'application/json' }, body: '{"at":"2026-03-14T20:00:00Z"}' }).then((r) => { if (!r.ok) throw new Error('no wish'); }));
}

async function unfold(page, screen) {
  if (screen === 'plan') {
    await page.getByLabel('Out of the oven by').fill('07:30');
    await page.getByLabel('Day').selectOption({ index: 2 });
    await page.getByRole('button', { name: 'Show me plans' }).click();
    await page.getByRole('heading', { name: /^Plan 1/ }).waitFor();
  }
  if (screen === 'feeds') {
    await page.getByLabel(/^Ripe starter/).fill('6');
    await page.getByRole('button', { name: 'Work out my feed' }).click();
    await page.getByText(/^Keep .* makes /).waitFor();
  }
  await page.evaluate(() => { for (const d of document.querySelectorAll('details')) d.open = true; });
}

export default () => {

describe('numbers', AT_ONCE, () => {
  job('320 px wide no number is torn from its unit', async () => {
    const context = await visitor({ viewport: { width: 320, height: 640 } });
    const page = await look(context);
    await everything(page);
    let seen = 0;
    for (const screen of SCREENS) {
      await settled(page, screen);
      await unfold(page, screen);
      const { found, torn } = await page.evaluate(() => {
        const unit = /\d\s?(?:°[CF]|%|mm|kg|g|oz|in|l|s|min|h|am|pm|days?)(?![\p{L}\d])|\d\s:\s\d/gu;
        const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        const all = { found: 0, torn: [] };
        for (let node = walker.nextNode(); node; node = walker.nextNode()) {
          if (!node.parentElement.checkVisibility() || node.parentElement.closest('script, option, .unseen')) continue;
          for (const m of node.data.matchAll(unit)) {
            const range = document.createRange();
            range.setStart(node, m.index);
            range.setEnd(node, m.index + m[0].length);
            all.found += 1;
            const lines = new Set([...range.getClientRects()].filter((r) => r.width > 0).map((r) => Math.round(r.top)));
            if (lines.size > 1 || / /.test(m[0])) all.torn.push(node.data);
          }
        }
        return all;
      });
      assert.deepEqual(torn, [], screen);
      seen += found;
    }
    assert.ok(seen > 100, `only ${seen} numbers with a unit were found`);
    await context.close();
  });

  // What the tests' own kitchen says as a finished sentence is left out; the
  // daemon says such in the units of its configuration.
  const FINISHED = ['Bramble reached 34.2 °C, so the mat was switched off for good.', 'Reads every ten seconds; the noise is 0.8 mm.', 'Bramble has stood at its top since 11:20. Use it within the hour, or feed it.',
    'It jumped 63 mm in ten seconds: a hand or a glint on wet dough.', '85.000 °C is what this probe says after a power cut, not a measurement.', 'Enough for the dough and 20 g to carry on with.'];

  job('in the United States only weights are metric, and no hour is past twelve', async () => {
    const context = await visitor({ locale: 'en-US', viewport: { width: 1280, height: 900 } });
    const page = await look(context);
    await everything(page);
    let seen = 0;
    for (const screen of [...SCREENS, 'new']) {
      if (screen === 'new') await page.goto(`${PAGE}/#/new`).then(() => page.getByText('i2c bus 3').waitFor());
      else await settled(page, screen);
      await unfold(page, screen);
      const texts = await page.evaluate(() => {
        const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        const all = [];
        for (let node = walker.nextNode(); node; node = walker.nextNode()) if (node.parentElement.checkVisibility() && !node.parentElement.closest('script, .choices')) all.push(node.data);
        for (const el of document.querySelectorAll('[aria-label], [placeholder], option')) all.push(el.getAttribute('aria-label') || el.placeholder || el.textContent);
        return all;
      });
      const metric = texts.map((t) => FINISHED.reduce((left, f) => left.replace(f, ''), t.replace(/\s/g, ' '))).filter((t) => /°C|\d ?(mm|cm|ml|l)(?![\p{L}\d])|, (mm|°C)$|\b\d{1,2}:\d\d(?! ?[ap]m)\b/u.test(t));
      assert.deepEqual(metric, [], screen);
      seen += texts.filter((t) => /°F|\d\s(in|am|pm)\b/.test(t)).length;
    }
    assert.ok(seen > 60, `only ${seen} texts in their units were found`);
    await context.close();
  });
});

describe('for everyone', AT_ONCE, () => {
  for (const colorScheme of ['light', 'dark']) {
    for (const width of [390, 1440]) {
      job(`axe finds nothing, ${colorScheme}, ${width} px`, async () => {
        const context = await visitor({ colorScheme, viewport: { width, height: 900 } });
        const page = await look(context);
        await pull('stale', { seconds: 600 }); // with banners
        await pull('ask');
        await pull('chill', { vessel: 'pilot' });
        for (const screen of SCREENS) {
          if (screen === 'mat') await pull('trip', { holds: '1' });
          await settled(page, screen);
          await page.evaluate(() => { for (const d of document.querySelectorAll('details')) d.open = true; });
          await page.evaluate(() => new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); }));
          assert.deepEqual(await violations(page, colorScheme), [], screen);
        }
        await page.goto(`${PAGE}/#/mat`);
        await page.getByRole('button', { name: 'Switch on', exact: true }).click();
        await page.getByRole('dialog').waitFor();
        assert.deepEqual(await violations(page, colorScheme), [], 'the cautions');
        await context.close();
      });
    }
  }

  job('axe finds a fault that was planted', async () => {
    const context = await visitor();
    const page = await look(context);
    await settled(page, 'now');
    await page.evaluate(() => {
      const p = document.querySelector('article p');
      p.style.color = '#e8dcc6';
      document.querySelector('.aside button').removeAttribute('aria-label');
      document.querySelector('.aside button').textContent = '';
    });
    const found = await violations(page);
    assert.ok(found.some((v) => v.startsWith('color-contrast')) && found.some((v) => v.startsWith('button-name')), found.join('\n'));
    await context.close();
  });

  job('the keyboard reaches everything, and one sees where it is', async () => {
    const context = await visitor({ viewport: { width: 1280, height: 900 } });
    const page = await look(context);
    for (const screen of SCREENS) {
      await settled(page, screen);
      await page.reload();
      await settled(page, screen);
      const wanted = await page.evaluate(() => {
        window.walked = [];
        addEventListener('focusin', ({ target: el }) => {
          el.dataset.walk ||= String(Math.random());
          const style = getComputedStyle(el);
          window.walked.push({ id: el.dataset.walk, what: `${el.tagName} ${el.textContent.slice(0, 30)}`, ring: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2, radio: el.type === 'radio' });
        });
        return [...document.querySelectorAll('a[href], button, input, textarea, summary, [tabindex="0"]')].filter((el) => el.checkVisibility() && !el.disabled && el.type !== 'radio').length;
      });
      let walked = [];
      // Some take several presses, such as the parts of a clock time.
      for (let round = 0; round < 6 && new Set(walked.filter((at) => !at.radio).map((at) => at.id)).size < wanted; round += 1) {
        for (let i = 0; i < wanted; i += 1) await page.keyboard.press('Tab');
        walked = await page.evaluate(() => window.walked);
      }
      const seen = new Set(walked.filter((at) => !at.radio).map((at) => at.id));
      const unseen = walked.filter((at) => !at.ring).map((at) => at.what);
      assert.ok(seen.size >= wanted, `${screen}: ${seen.size} of ${wanted} are reached`);
      assert.deepEqual(unseen, [], `${screen}: no ring`);
    }
    await settled(page, 'now');
    await page.reload();
    await settled(page, 'now');
    await page.keyboard.press('Tab');
    assert.equal(await page.evaluate(() => document.activeElement.className), 'skip');
    await page.keyboard.press('Enter');
    assert.equal(await page.evaluate(() => document.activeElement.id), 'content');
    await page.getByRole('button', { name: 'I fed it: Bramble' }).focus();
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Undo: feed of Bramble' }).waitFor();
    await page.keyboard.press('Space');
    await page.getByRole('button', { name: 'I fed it: Bramble' }).waitFor();
    await context.close();
  });

  job('thumbs: whatever is pressed is at least 44 pixels high', async () => {
    const context = await visitor();
    const page = await look(context);
    for (const screen of SCREENS) {
      await settled(page, screen);
      const small = await page.evaluate(() => [...document.querySelectorAll('button, .button, nav a, .tabs a, summary, input:not([type=checkbox]):not([type=radio]), label.tick')].filter((el) => el.checkVisibility() && el.getBoundingClientRect().height < 43.9).map((el) => `${el.tagName} ${el.textContent.slice(0, 24)} ${el.getBoundingClientRect().height}`));
      assert.deepEqual(small, [], screen);
    }
    await context.close();
  });
});

describe('at every size', AT_ONCE, () => {
  for (const [width, height, scale] of [[320, 640, 2], [390, 844, 2], [768, 1024, 1], [1440, 900, 1], [3840, 2160, 1]]) {
    job(`${width} px wide nothing is cut off`, async () => {
      for (const colorScheme of width === 390 || width === 1440 ? ['light', 'dark'] : ['light']) {
        const context = await visitor({ colorScheme, viewport: { width, height }, deviceScaleFactor: scale, reducedMotion: 'reduce' });
        const page = await look(context);
        for (const screen of width < 3840 ? SCREENS : ['now', 'curve']) {
          await settled(page, screen);
          const over = await page.evaluate(() => {
            const scrolls = (el) => el !== document.body && (['auto', 'scroll'].includes(getComputedStyle(el).overflowX) || scrolls(el.parentElement));
            return [document.documentElement.scrollWidth - innerWidth, ...[...document.querySelectorAll('main button, main p, main h1, main h2, main dd')].filter((el) => el.checkVisibility() && !scrolls(el) && !el.matches('.unseen')).map((el) => el.getBoundingClientRect()).map((r) => Math.max(r.right - innerWidth, -r.left))].reduce((a, b) => Math.max(a, b));
          });
          assert.ok(over <= 0.5, `${screen}: ${over} px beyond the edge`);
          if (width !== 768) await page.screenshot({ path: `${ARTEFACTS}/${screen}-${width}-${colorScheme}.png`, fullPage: width < 3840 });
        }
        await context.close();
      }
    });
  }
});

describe('a day later', AT_ONCE, () => {
  for (const width of [320, 390]) {
    job(`${width} px wide a top of yesterday fits`, async () => {
      const context = await visitor({ viewport: { width, height: 844 } });
      await pull('shift', { by: '15h' });
      const page = await look(context);
      const hour = page.locator('#content .outlook-time', { hasText: 'yesterday' }).first();
      await hour.waitFor();
      await page.evaluate(() => document.fonts.ready);
      const over = await hour.evaluate((el) => { const r = document.createRange(); r.selectNodeContents(el); return r.getBoundingClientRect().right - innerWidth; });
      assert.ok(over <= 0, `${over} px beyond the edge`);
      await context.close();
    });

    job(`${width} px wide an hour past noon fits with its pm`, async () => {
      const context = await visitor({ locale: 'en-US', viewport: { width, height: 844 } });
      for (const hold of [true, false]) { // the document's own, and the script's
        const page = await context.newPage();
        if (hold) await page.route('**/app.js', (route) => route.fulfill({ contentType: 'text/javascript', body: '' }));
        await page.goto(`${PAGE}/#/now`);
        const hour = page.locator(hold ? '.outlook-hour' : '.outlook-time', { hasText: 'pm' }).first();
        await hour.waitFor();
        await page.evaluate(() => document.fonts.ready);
        const over = await hour.evaluate((el) => {
          el.textContent = el.textContent.replace(/^\d+/, '12'); // the widest there is
          const r = document.createRange();
          r.selectNodeContents(el);
          return Math.max(r.getBoundingClientRect().right - (innerWidth - 12), r.getClientRects().length - 1);
        });
        assert.ok(over <= 0, `${hold ? 'in the document' : 'by the script'}: ${over} px beyond the edge, or on two lines`);
      }
      await context.close();
    });
  }
});

describe('light to carry', AT_ONCE, () => {
  job('the whole page weighs at most 300 kB', async (t) => {
    const context = await visitor();
    const page = await look(context);
    let sent = 0;
    let plain = 0;
    const files = new Map();
    const client = await context.newCDPSession(page);
    await client.send('Network.enable');
    await client.send('Network.setCacheDisabled', { cacheDisabled: true });
    await client.send('Network.setBypassServiceWorker', { bypass: true });
    client.on('Network.responseReceived', ({ requestId, response }) => files.set(requestId, response.url));
    const seen = new Set();
    client.on('Network.dataReceived', ({ requestId, dataLength, encodedDataLength }) => {
      const url = files.get(requestId) || '';
      if (url.includes('/api/') || url.startsWith('data:')) return;
      seen.add(url);
      plain += dataLength;
      sent += encodedDataLength;
    });
    await page.reload();
    for (const screen of SCREENS) await settled(page, screen);
    report(t, `five screens: ${(sent / 1000).toFixed(1)} kB sent, ${(plain / 1000).toFixed(1)} kB unpacked, ${seen.size} files`);
    assert.ok(seen.size > 10, `only ${seen.size} files were counted`);
    assert.ok(sent > 100_000, 'the count is implausible');
    assert.ok(plain <= 300_000, `${plain} bytes`);
    await context.close();
  });
});
};
