// Every state that a vessel or the kitchen can be in, on a phone and on a
// desktop, by day and by night: it says what it is, axe finds nothing, and what
// is drawn stands out from what is behind it.

import { describe } from 'node:test';
import assert from 'node:assert/strict';
import { ARTEFACTS, AT_ONCE, PAGE, SCREENS, job, look, pull, until, violations, visitor } from './kit.mjs';

const post = (path, method, body) => fetch(`${PAGE}/api/${path}`, { method, headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) });

// STATES are put in place one after another: how, and what the page then says.
const STATES = [
  ['just fed', () => pull('stand', { vessel: 'bramble', as: 'fed' }), 'Just fed'],
  ['early', () => pull('stand', { vessel: 'bramble', as: 'early' }), 'Too early to tell'],
  ['rising', () => pull('stand', { vessel: 'bramble', as: 'rising' }), 'Peak at about'],
  ['nearly', () => pull('stand', { vessel: 'bramble', as: 'nearly' }), 'Nearly at its peak'],
  ['ready', () => pull('stand', { vessel: 'bramble', as: 'ready' }), /^Best until about/],
  ['past', () => pull('stand', { vessel: 'bramble', as: 'past' }), 'Past its peak'],
  ['dough ready', () => pull('stand', { vessel: 'dough', as: 'ready' }), 'Ready to shape'],
  ['dough over', () => pull('stand', { vessel: 'dough', as: 'over' }), 'Going over'],
  ['dough past', () => pull('stand', { vessel: 'dough', as: 'past' }), 'Past its best'],
  ['no thermometer', () => pull('stand', { vessel: 'pilot', as: 'no-thermometer' }), 'Thermometer not answering'],
  ['latched mat', () => pull('trip', { holds: '1' }), 'Shelf mat: switched off for safety.'],
  ['plan running', plan, 'Next for your bake'],
  ['offline', () => pull('away'), /^Offline since/],
  ['back again', () => pull('back'), 'Next for your bake'],
  ['nothing set up', () => pull('empty'), 'Set up your first jar'],
];

// plan has the baker go by the first plan for a loaf of tomorrow.
async function plan() {
  const ready = new Date(Date.parse((await (await fetch(`${PAGE}/api/now`)).json()).at) + 30 * 3600e3).toISOString();
  const { plans } = await (await fetch(`${PAGE}/api/plans?ready=${encodeURIComponent(ready)}`)).json();
  await post('plan', 'PUT', { id: plans[0].id });
}

// contrast is how far the level in a drawn jar, and the border of a plain
// button, stand out: WCAG 2.2, 1.4.11 asks for 3:1.
const contrast = (page) => page.evaluate(() => {
  const luminance = (colour) => {
    const [r, g, b] = colour.match(/[\d.]+/g).map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const between = (a, b) => { const [x, y] = [luminance(a), luminance(b)]; return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05); };
  const style = (selector, name) => getComputedStyle(document.querySelector(`main ${selector}`))[name];
  const button = document.createElement('button');
  document.querySelector('main').append(button);
  const border = getComputedStyle(button).borderTopColor;
  button.remove();
  return {
    'the dough against the glass': between(style('.dough', 'fill'), style('.glass-fill', 'fill')),
    'the surface against the dough': between(style('.dough-skin', 'stroke'), style('.dough', 'fill')),
    'the glass against the page': between(style('svg.vessel .glass', 'stroke'), getComputedStyle(document.body).backgroundColor),
    'a border against the page': between(border, getComputedStyle(document.body).backgroundColor),
  };
});

// pseudo is a language that no catalogue has: every letter with an accent, and
// everything longer by a third.
const ACCENTS = { a: 'á', c: 'ç', e: 'é', i: 'í', n: 'ñ', o: 'ó', s: 'š', u: 'ú', y: 'ý', z: 'ž' };
function pseudo(value, key) {
  if (typeof value !== 'string') return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, pseudo(v, k)]));
  if (key === 'locale') return value;
  const dressed = value.split(/(\{[^}]*\})/).map((part) => (part.startsWith('{') ? part : part.replace(/[aceinosuyz]/g, (c) => ACCENTS[c]))).join('');
  return `⟦${dressed}${value.length > 6 ? ' ' + 'ó'.repeat(Math.ceil(value.length / 3)).replace(/.{9}/g, '$& ') : ''}⟧`;
}

export default () => {
  describe('every state', AT_ONCE, () => {
    for (const colorScheme of ['light', 'dark']) {
      for (const width of [390, 1280]) {
        job(`${width} px, ${colorScheme}`, async () => {
          const context = await visitor({ colorScheme, viewport: { width, height: width === 390 ? 844 : 900 } });
          const page = await look(context, `${PAGE}/#/now`, /Failed to load resource|ERR_|net::/); // it goes away on purpose
          for (const [name, prepare, says] of STATES) {
            await prepare();
            await page.getByText(says).first().waitFor();
            assert.deepEqual(await violations(page, colorScheme), [], name);
            if (name !== 'nothing set up') for (const [what, ratio] of Object.entries(await contrast(page))) assert.ok(ratio >= 3, `${name}: ${what}: ${ratio.toFixed(2)}:1`);
            await page.screenshot({ path: `${ARTEFACTS}/state-${name.replaceAll(' ', '-')}-${width}-${colorScheme}.png` });
          }
          await context.close();
        });
      }
    }

    job('three vessels are in view on a desktop, and the next one on a phone', async () => {
      for (const [width, height, wanted] of [[1280, 900, 3], [390, 844, 2]]) {
        const context = await visitor({ viewport: { width, height } });
        const page = await look(context);
        const seen = await page.locator('main article h2').evaluateAll((all, bottom) => all.filter((el) => el.getBoundingClientRect().bottom < bottom).length, height - (width === 390 ? 80 : 0));
        assert.ok(seen >= wanted, `${width} px: ${seen} names in view`);
        if (width === 1280) assert.ok(await page.locator('main .act').evaluateAll((all) => all.every((el) => el.getBoundingClientRect().bottom <= innerHeight)), 'a button is out of view');
        await context.close();
      }
    });

    job('what is ready is used or shaped by one press, and the press can be taken back', async () => {
      for (const [id, press, done] of [['dough', 'I shaped it: Saturday loaf', /^Shaped at/], ['bramble', 'I used it: Bramble', /^Used at/]]) {
        await pull('stand', { vessel: id, as: 'ready' });
        const context = await visitor();
        const page = await look(context);
        const place = page.locator(`[data-key="${id}"]`);
        assert.equal(await place.locator('button.big:visible').count(), 1, 'what a thumb hits is one thing');
        await place.getByRole('button', { name: press }).click();
        await place.locator('.noted').filter({ hasText: done }).waitFor();
        assert.deepEqual(await violations(page), []);
        await place.getByRole('button', { name: /^Undo/ }).click();
        await place.getByRole('button', { name: press }).waitFor();
        await context.close();
      }
    });

    job('the next step of a plan stands on the first screen, with its button', async () => {
      await plan();
      const context = await visitor();
      const page = await look(context);
      const next = page.getByRole('complementary', { name: 'Next for your bake' });
      await next.getByRole('button', { name: /^Done: / }).click();
      await until('the step is done', async () => (await (await fetch(`${PAGE}/api/plan`)).json()).chosen.plan.steps[0].done);
      assert.deepEqual(await violations(page), []);
      await context.close();
    });
  });

  describe('languages', AT_ONCE, () => {
    job('in German the document, the page and its hours are German', async () => {
      const context = await visitor({ locale: 'de-DE' });
      const page = await look(context);
      assert.equal(await page.evaluate(() => document.documentElement.lang), 'de');
      await page.getByRole('button', { name: 'Gefüttert: Bramble' }).waitFor();
      for (const screen of SCREENS) {
        await page.goto(`${PAGE}/#/${screen}`);
        await page.locator(`body[data-screen="${screen}"] main h1`).waitFor();
        assert.deepEqual(await violations(page), [], screen);
      }
      await page.goto(`${PAGE}/#/setup`);
      await page.getByRole('button', { name: 'English' }).click(); // the page is loaded again
      await page.getByRole('heading', { name: 'Settings' }).waitFor();
      await context.close();
    });

    job('a language a third longer is neither cut off nor mixed with English', async () => {
      const context = await visitor({ viewport: { width: 390, height: 844 }, serviceWorkers: 'block' });
      await context.route('**/text/en*.json', async (route) => {
        const reply = await route.fetch();
        await route.fulfill({ response: reply, json: pseudo(await reply.json()) });
      });
      const page = await look(context, `${PAGE}/#/now`, /Service Worker/);
      for (const screen of [...SCREENS, 'new']) {
        await page.goto(`${PAGE}/#/${screen}`);
        await page.locator(`body[data-screen="${screen}"] main h1`).waitFor();
        const { foreign, over } = await page.evaluate(() => {
          const scrolls = (el) => el && el !== document.body && (['auto', 'scroll'].includes(getComputedStyle(el).overflowX) || scrolls(el.parentElement));
          const shown = [...document.querySelectorAll('main h1, main h2, main button, main label, main summary, nav a')].filter((el) => el.checkVisibility());
          const names = ['Bramble', 'Pilot', 'Saturday loaf', 'Shelf mat', 'Bench mat', '°C', '°F', 'g', 'oz', '14:20', '2:20 pm', 'English', 'Deutsch', '−', '+', '×'];
          return {
            foreign: shown.filter((el) => el.tagName !== 'LABEL' || !/^\d$/.test(el.textContent)).map((el) => el.textContent.trim().replace(/\s/g, ' ')).filter((text) => text && !text.includes('⟦') && !names.includes(text)),
            over: shown.filter((el) => !scrolls(el) && el.getBoundingClientRect().right > innerWidth + 0.5).map((el) => el.textContent.slice(0, 40)),
          };
        });
        assert.deepEqual(foreign, [], screen);
        assert.deepEqual(over, [], screen);
      }
      await context.close();
    });

    job('an alarm, which seldom comes, is told in the reader’s language too', async () => {
      const context = await visitor({ locale: 'de-DE', serviceWorkers: 'block' });
      await context.route('**/api/events', (route) => route.abort());
      await context.route('**/api/now', async (route) => {
        const reply = await route.fetch();
        const now = await reply.json();
        await route.fulfill({ response: reply, json: { ...now, notices: [{ code: 'broker-unreached', text: 'There is no connection.', text_say: { key: 'alarm.broker.away' } }] } });
      });
      const page = await look(context, `${PAGE}/#/now`, /ERR_FAILED|EventSource|Service Worker/);
      await page.getByText('Zum MQTT-Broker besteht keine Verbindung').waitFor();
      await context.close();
    });
  });
};
