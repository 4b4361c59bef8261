// Ten things that a baker comes for, each from the first screen on, with how many
// presses it takes: a tap, a choice or a field filled in counts as one.

import { describe } from 'node:test';
import assert from 'node:assert/strict';
import { AT_ONCE, PAGE, job, kitchen, look, pull, report, until, visitor } from './kit.mjs';

const api = async (path) => (await fetch(`${PAGE}/api/${path}`)).json();

// hands count what is pressed.
function hands(page) {
  const h = { presses: 0 };
  for (const act of ['click', 'fill', 'selectOption', 'uncheck']) h[act] = async (what, ...rest) => { h.presses += 1; await what[act](...rest); };
  h.screen = (name) => h.click(page.getByRole('navigation').getByRole('link', { name }));
  return h;
}

const TASKS = [
  ['see when it peaks', 0, async (page) => assert.match(await page.locator('[data-key="bramble"] .outlook-time').textContent(), /\d:\d\d/)],
  ['enter a forgotten feed', 3, async (page, h) => {
    const before = (await kitchen()).feeds.bramble;
    await h.click(page.getByRole('button', { name: 'Fed earlier? Bramble' }));
    const when = page.getByRole('dialog').getByLabel('When');
    await h.fill(when, `${(await when.inputValue()).split('T')[0]}T10:10`);
    await h.click(page.getByRole('dialog').getByRole('button', { name: 'Save' }));
    await until('the feed', async () => (await kitchen()).feeds.bramble === before + 1);
  }],
  ['get told on the phone', 2, async (page, h) => {
    await h.screen('Settings');
    await h.click(page.getByRole('button', { name: 'Send them here' }));
    await page.getByText('This browser gets messages').first().waitFor();
  }],
  ['plan Saturday’s loaf', 4, async (page, h) => {
    await h.screen('Bake');
    await h.selectOption(page.getByLabel('Day'), { index: 2 });
    await h.click(page.getByRole('button', { name: 'Show me plans' }));
    await h.click(page.getByRole('button', { name: 'Use this plan: plan 1' }));
    await until('the plan', async () => (await api('plan')).chosen);
  }],
  ['aim the peak at 20:00', 3, async (page, h) => {
    await h.screen('Bake');
    await h.fill(page.getByLabel('Time', { exact: true }), '20:00');
    await h.click(page.getByRole('button', { name: 'Aim for this time' }));
    await page.getByText('On course for 20:00').waitFor();
  }],
  ['look why the mat is off', 1, async (page, h) => {
    await pull('trip', { holds: '1' });
    await h.click(page.getByRole('link', { name: 'See why' }));
    await page.locator('.fault-text').first().waitFor();
  }],
  ['compare two feeds', 2, async (page, h) => {
    await h.screen('Feeds');
    await page.locator('.chart[data-lines="3"] canvas').waitFor();
    await h.uncheck(page.getByRole('checkbox', { name: 'Compare' }).nth(2));
    await page.locator('.chart[data-lines="2"] canvas').waitFor();
  }],
  ['calibrate a jar', 4, async (page, h) => {
    await h.screen('Settings');
    await h.click(page.getByRole('button', { name: 'Measure its depth: Bramble' }));
    await h.click(page.getByRole('button', { name: 'Measure the empty jar' }));
    await page.getByText('The bottom is 171 mm below the sensor.').waitFor();
    await h.click(page.getByRole('dialog').getByRole('button', { name: 'Save' }));
    await until('the depth is kept', async () => (await kitchen()).floors?.bramble === 171.4);
  }],
  ['export a curve', 2, async (page, h) => {
    await h.screen('Curve');
    await page.locator('.chart canvas').waitFor();
    const [file] = await Promise.all([page.waitForEvent('download'), h.click(page.getByRole('button', { name: 'Download as CSV' }))]);
    assert.equal(file.suggestedFilename(), 'bramble-curve.csv');
  }],
  ['add a second jar', 6, async (page, h) => {
    await h.screen('Settings');
    await h.click(page.getByRole('link', { name: 'Add a jar or bowl' }));
    await page.getByRole('heading', { name: 'A new jar or bowl' }).waitFor();
    await h.fill(page.getByLabel('Name'), 'Bess');
    await h.click(page.getByRole('button', { name: 'Measure the empty jar' }));
    await page.getByText('The bottom is 171 mm below the sensor.').waitFor();
    await h.click(page.getByRole('button', { name: 'Review' }));
    await h.click(page.getByRole('button', { name: 'Save and start' }));
    await page.getByRole('link', { name: 'See it' }).waitFor();
  }],
];

export default () => {
  describe('ten tasks', AT_ONCE, () => {
    for (const [name, most, act] of TASKS) {
      job(name, async (t) => {
        const context = await visitor({ permissions: ['notifications'] });
        await context.addInitScript(() => { // the push service is out of reach of a test
          const made = { endpoint: 'https://push.example/one', toJSON: () => ({ endpoint: made.endpoint, keys: { p256dh: 'BP4z', auth: 'abc' } }), unsubscribe: async () => true };
          let now = null;
          PushManager.prototype.subscribe = async () => { now = made; return made; };
          PushManager.prototype.getSubscription = async () => now;
        });
        const page = await look(context);
        const h = hands(page);
        await act(page, h);
        report(t, `task: ${name}: ${h.presses} presses`);
        assert.ok(h.presses <= most, `${h.presses} presses, at most ${most} are wanted`);
        await context.close();
      });
    }
  });
};
