// Planning bread on the page, in a real browser.

import assert from 'node:assert/strict';
import { ARTEFACTS, PAGE, forgive, job, look, until, violations, visitor } from './kit.mjs';

const plan = async () => (await (await fetch(`${PAGE}/api/plan`)).json()).chosen;

export default () => {
job('bread is planned: asked for, chosen, gone by, dropped', async () => {
  const context = await visitor();
  const page = await look(context, `${PAGE}/#/plan`);
  await page.getByRole('heading', { name: 'Plan a bake' }).waitFor();
  await page.getByLabel('Out of the oven by').fill('07:30');
  await page.getByLabel('Day').selectOption({ index: 2 });
  await page.getByRole('button', { name: 'Show me plans' }).click();
  await page.getByRole('heading', { name: /^Plan 1/ }).waitFor();
  assert.equal(await page.locator('article.bread').count(), 2);
  assert.deepEqual(await page.locator('article.bread').first().locator('.bread-clock').allTextContents().then((all) => all.at(-1)), '07:30');
  await page.getByText('What could go wrong, and why this plan').first().click();
  await page.getByText('Two in ten that the starter peaks before 06:30').first().waitFor();
  assert.deepEqual(await violations(page), []);
  await page.screenshot({ path: `${ARTEFACTS}/plans-phone.png`, fullPage: true });

  const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Add to my calendar: plan 1' }).click()]);
  assert.equal(file.suggestedFilename(), 'bread.ics');

  await page.getByRole('button', { name: 'Use this plan: plan 2' }).click();
  await page.getByRole('heading', { name: /^Your plan: Pan loaf/ }).waitFor();
  assert.equal((await plan()).plan.ratio, '1:2:2');
  await page.getByRole('button', { name: 'Show me plans' }).click();
  await page.getByText(/^You are already working to a plan: Pan loaf by .*07:30/).waitFor();
  await page.getByRole('button', { name: 'Done: feed' }).click();
  await page.getByRole('button', { name: 'Done: mix' }).waitFor();
  assert.equal((await plan()).plan.steps[0].done, true);
  assert.deepEqual(await violations(page), []);
  await page.screenshot({ path: `${ARTEFACTS}/plan-phone.png`, fullPage: true });
  // A second visitor sees the same plan.
  const other = await look(await visitor({ colorScheme: 'dark' }), `${PAGE}/#/plan`);
  await other.getByRole('button', { name: 'Done: mix' }).waitFor();
  assert.deepEqual(await violations(other, 'dark'), []);
  await page.getByRole('button', { name: 'Drop this plan' }).click();
  await until('the plan is gone', async () => (await plan()) === null);
  await page.getByRole('heading', { name: /^Your plan/ }).waitFor({ state: 'detached' });
  await other.context().close();
  await context.close();
});

// What the daemon says, the page writes in the clock and units chosen there.
job('a plan and a target time are read in the United States', async () => {
  const context = await visitor({ locale: 'en-US' });
  const page = await look(context, `${PAGE}/#/plan`);
  await page.getByLabel('Out of the oven by').fill('07:30');
  await page.getByLabel('Day').selectOption({ index: 2 });
  await page.getByRole('button', { name: 'Show me plans' }).click();
  await page.getByRole('heading', { name: /^Plan 1/ }).waitFor();
  const first = page.locator('article.bread').first();
  await first.getByText(/^Feed 1:5:5: keep 12.g starter, add 58.g white wheat flour, and 58.g water\. Keep it on the mat at 79.°F\.$/).waitFor();
  await first.getByText(/^Oven on at 6:30\sam\. Bake for 40\smin, until it is 199.°F to 208.°F inside\.$/).waitFor();
  await first.getByText('What could go wrong, and why this plan').click();
  await first.getByText('Two in ten that the starter peaks before 6:30 am, while you sleep.').waitFor();
  const link = page.getByRole('link', { name: 'Add to my calendar: plan 1' });
  assert.match(await link.getAttribute('href'), /units=us&clock=12&language=en$/);
  const metric = /°C|\b(1[3-9]|2[0-3]):\d\d\b|\b0\d:\d\d\b/;
  assert.doesNotMatch(await first.innerText(), metric);
  await page.getByRole('button', { name: 'Use this plan: plan 1' }).click();
  await page.getByRole('heading', { name: /^Your plan: Pan loaf by .* 7:30\sam/ }).waitFor();
  assert.doesNotMatch(await page.locator('.block').first().innerText(), metric);
  await page.screenshot({ path: `${ARTEFACTS}/plan-us-phone.png`, fullPage: true });
  await page.getByRole('button', { name: 'Drop this plan' }).click();
  await until('the plan is gone', async () => (await plan()) === null);

  await page.getByLabel('Time', { exact: true }).fill('20:00');
  await page.getByRole('button', { name: 'Aim for this time' }).click();
  const stands = page.getByRole('region', { name: 'Bramble' });
  await stands.getByText(/^On course for 8:00\spm; the mat holds 76\.1.°F\.$/).waitFor();
  await stands.getByText(/^On its peak from about 8:00\spm to 9:30\spm\. It was kept 18 degree-hours above the room so far\.$/).waitFor();
  await stands.getByRole('button', { name: 'Cancel this' }).click();
  await stands.waitFor({ state: 'detached' });
  await context.close();
});

job('a German page shows German plans', async () => {
  const context = await visitor({ locale: 'de-DE' });
  const page = await look(context, `${PAGE}/#/plan`);
  await page.getByLabel('Aus dem Ofen bis').fill('07:30');
  await page.getByLabel('Tag', { exact: true }).selectOption({ index: 2 });
  await page.getByRole('button', { name: 'Pläne zeigen' }).click();
  const first = page.locator('article.bread').first();
  await first.getByText(/^1:5:5 füttern: 12.g Starter behalten, 58.g helles Weizenmehl dazu, und 58.g Wasser\. So steht er: auf der Matte bei 26.°C\.$/).waitFor();
  await first.getByText(/^Formen\. Dann Stückgare im Kühlschrank bis/).waitFor();
  await first.locator('summary').click();
  await first.getByText('In zwei von zehn Fällen kommt der Höchststand vor 06:30, während du schläfst.').waitFor();
  assert.doesNotMatch(await first.innerText(), /\b(the|of|and|until|with|keep|fridge|mix|bulk|while)\b/);
  assert.deepEqual(await violations(page), []);
  await context.close();
});

job('a loaf is baked every week, and left out once', async () => {
  const context = await visitor();
  const page = await look(context, `${PAGE}/#/plan`);
  const weekly = async () => (await (await fetch(`${PAGE}/api/plan`)).json()).weekly;
  await page.getByLabel('Out of the oven by').fill('07:30');
  for (const index of [2, 4]) {
    await page.getByLabel('Day').selectOption({ index });
    await page.getByRole('button', { name: 'Every week on this day' }).click();
    await until('a day more', async () => (await weekly())?.days.length === index / 2);
  }
  await page.getByRole('heading', { name: /^Every \w+day and \w+day at 07:30: pan loaf/ }).waitFor();
  await page.getByRole('button', { name: 'Skip next' }).click();
  await page.getByText(/^The one for .* is skipped/).waitFor();
  assert.deepEqual(await violations(page), []);
  await page.screenshot({ path: `${ARTEFACTS}/plan-weekly-phone.png`, fullPage: true });
  await page.getByRole('button', { name: 'Stop repeating' }).click();
  await until('no more of it', async () => (await weekly()) === null);
  await context.close();
});

job('a loaf that cannot be had says what can', async () => {
  const context = await visitor();
  const page = await look(context, `${PAGE}/#/plan`);
  await until('the kitchen’s days', async () => (await page.getByLabel('Day').locator('option').first().textContent()) .includes('14 Mar'));
  await page.getByLabel('Day').selectOption({ index: 0 });
  const { at, zone } = await (await fetch(`${PAGE}/api/now`)).json();
  const soon = new Date(Date.parse(at) + 2 * 3600e3).toLocaleTimeString('en-GB', { timeZone: zone || undefined, hour: '2-digit', minute: '2-digit' });
  await page.getByLabel('Out of the oven by').fill(soon);
  await page.getByRole('button', { name: 'Show me plans' }).click();
  await page.getByText(`The loaf cannot be ready by ${soon}`).or(page.getByText(/The loaf cannot be ready by \w{3} /)).waitFor();
  await page.getByText(/^It would work by /).waitFor();
  assert.equal(await page.locator('article.bread').count(), 0);
  await page.getByLabel('Out of the oven by').fill('00:01');
  await page.getByRole('button', { name: 'Show me plans' }).click();
  await page.getByText('That hour has passed.').waitFor();
  forgive(); // the browser complains of every answer of 409
  await context.close();
});

job('a recipe is changed, copied and removed', async () => {
  const context = await visitor();
  const page = await look(context, `${PAGE}/#/plan`);
  const recipes = async () => (await (await fetch(`${PAGE}/api/recipes`)).json()).recipes;
  await page.getByRole('link', { name: 'Change recipes' }).click();
  await page.getByText('500 g white wheat flour; 66 % water, 20 % starter, 2 % salt').waitFor();
  assert.deepEqual(await violations(page), []);
  await page.getByRole('button', { name: 'New recipe' }).click();
  await page.getByLabel('Name').fill('Weekend loaf');
  await page.getByRole('button', { name: 'Add another flour' }).click();
  await page.getByRole('combobox', { name: 'Flour' }).last().fill('wholemeal rye flour');
  await page.getByLabel('Amount, g').first().fill('400');
  await page.getByLabel('Amount, g').last().fill('100');
  await page.getByLabel('Water, %').fill('72');
  const bulk = page.getByRole('group', { name: 'Bulk' });
  await bulk.getByLabel('Folds', { exact: true }).fill('4');
  const proof = page.getByRole('group', { name: 'Proof' });
  await proof.getByLabel('Hours').fill('1.5');
  await proof.getByLabel('At most, h').fill('36');
  await page.getByText('500 g flour, 360 g water, 100 g starter, 10 g salt: 970 g of dough. Hydration 75 % with the starter.').waitFor();
  assert.deepEqual(await violations(page), []);
  await page.screenshot({ path: `${ARTEFACTS}/recipe-phone.png`, fullPage: true });
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByText('400 g white wheat flour, 100 g wholemeal rye flour; 72 % water').waitFor();
  const [made] = await recipes();
  assert.deepEqual(made.flours, [{ kind: 'wheat', grams: 400 }, { kind: 'whole rye', grams: 100 }]);
  assert.deepEqual([made.name, made.own, made.water_g, made.starter_g], ['Weekend loaf', true, 360, 100]);
  const stage = (name) => made.stages.find((s) => s.name === name);
  assert.deepEqual([stage('bulk').folds, stage('bulk').folds_every, stage('bulk').at_c, stage('proof').minutes, stage('proof').fridge_longest, stage('mix').minutes], [4, 45, 25, 90, 2160, 30]);
  await page.getByRole('button', { name: 'Edit Weekend loaf' }).click();
  assert.doesNotMatch(await page.locator('main').innerText(), /\b(false|null|undefined|NaN)\b/);
  await page.getByRole('button', { name: 'Remove', exact: true }).click();
  await page.getByRole('dialog').getByRole('button', { name: 'Remove' }).click();
  await until('it is gone', async () => (await recipes()).length === 1);
  await page.getByRole('button', { name: 'Edit Pan loaf' }).click();
  await page.getByLabel('Name').fill('Tin loaf');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByText('changed', { exact: true }).waitFor();
  assert.deepEqual((await recipes()).map((r) => [r.name, r.changed]), [['Tin loaf', true]]);
  await page.getByRole('button', { name: 'Edit Tin loaf' }).click();
  await page.getByRole('button', { name: 'As it was before' }).click();
  await page.getByText('example', { exact: true }).waitFor();
  assert.deepEqual((await recipes()).map((r) => [r.name, r.changed]), [['pan loaf', false]]);
  await page.goto(`${PAGE}/#/plan`);
  await page.getByLabel('Recipe').waitFor();
  await context.close();
});

for (const width of [390, 1280]) {
  job(`${width} px wide the stages of a recipe are added, moved and removed`, async () => {
    const context = await visitor({ viewport: { width, height: 844 } });
    const page = await look(context, `${PAGE}/#/recipes`);
    const names = () => page.locator('.stage-form').evaluateAll((all) => all.map((el) => el.getAttribute('aria-label')));
    await page.getByRole('button', { name: 'Edit Pan loaf' }).click();
    const add = async (what) => {
      await page.getByLabel('Add a stage').selectOption(what);
      await page.getByRole('button', { name: 'Add', exact: true }).click();
    };
    for (const what of ['Autolyse', 'Soak', 'Preshape', 'Bench rest']) await add(what); // each where it usually comes
    assert.deepEqual(await names(), ['Autolyse', 'Soak', 'Mix', 'Bulk', 'Preshape', 'Bench rest', 'Shape', 'Proof', 'Bake', 'Cool']);
    const ticked = (name) => page.getByRole('group', { name, exact: true }).getByRole('checkbox', { checked: true }).evaluateAll((all) => all.map((el) => el.parentElement.textContent));
    assert.deepEqual([await ticked('Autolyse'), await ticked('Mix')], [['flour', 'water'], ['starter', 'salt']], 'what goes in at one stage goes in at no other');

    // By the keyboard alone: the button keeps the focus while its stage moves.
    await page.getByRole('button', { name: 'Move Preshape up' }).focus();
    await page.keyboard.press('Enter');
    await page.getByText('Preshape is now stage 4 of 10.').waitFor({ state: 'attached' });
    await page.getByRole('alert').filter({ hasText: 'Bulk and Bench rest follow each other.' }).waitFor();
    await page.getByRole('button', { name: 'Save' }).click();
    assert.equal(await page.locator('.stage-form').count(), 10, 'what no plan can be made of is not saved');
    await page.getByRole('button', { name: 'Move Preshape down' }).focus();
    await page.keyboard.press('Enter');
    assert.equal(await page.evaluate(() => document.activeElement.getAttribute('aria-label')), 'Move Preshape down');

    await page.getByRole('button', { name: 'Remove Soak' }).click();
    await page.getByRole('button', { name: 'Remove Autolyse' }).click();
    assert.deepEqual(await ticked('Mix'), ['flour', 'water', 'starter', 'salt']);
    await add('Other work');
    await page.getByLabel('Name of the stage').fill('slash');
    await page.getByRole('button', { name: 'Move Slash up' }).click(); // before the cooling
    await page.getByRole('button', { name: 'Move Slash up' }).click(); // before the oven
    assert.deepEqual(await violations(page), []);
    const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(over <= 0, `${over} px beyond the edge`);
    await page.screenshot({ path: `${ARTEFACTS}/recipe-stages-${width}.png`, fullPage: true });
    await page.getByRole('button', { name: 'Save' }).click();
    await page.getByText('500 g white wheat flour; 66 % water').first().waitFor();
    const [{ stages }] = (await (await fetch(`${PAGE}/api/recipes`)).json()).recipes;
    assert.deepEqual(stages.map((s) => s.name), ['mix', 'bulk', 'preshape', 'bench rest', 'shape', 'proof', 'slash', 'bake', 'cool']);
    assert.deepEqual([stages[3].kind, stages[3].minutes, stages[6].kind, stages.some((s) => s.adds?.length)], ['rest', 20, 'hands', false]);
    await page.getByRole('button', { name: 'Edit Pan loaf' }).first().click(); // the next test begins with the example alone
    await page.getByRole('button', { name: 'As it was before' }).click();
    await until('it is as it was', async () => !(await (await fetch(`${PAGE}/api/recipes`)).json()).recipes[0].changed);
    await context.close();
  });
}

job('the baker is away from a day until another', async () => {
  const context = await visitor();
  const page = await look(context, `${PAGE}/#/setup`);
  const holiday = async () => (await fetch(`${PAGE}/api/holiday`)).json();
  const form = page.locator('section', { has: page.getByRole('heading', { name: 'When you are away' }) });
  await form.getByLabel('Away from').fill('2026-03-20');
  await form.getByLabel('Until').fill('2026-03-18'); // the browser does not take it
  await form.getByRole('button', { name: 'Save' }).click();
  assert.equal((await holiday()).back, '');
  await form.getByLabel('Until').fill('2026-03-29');
  await form.getByRole('button', { name: 'Save' }).click();
  await form.getByText(/^Away from .*20 Mar.* until .*29 Mar/).waitFor();
  assert.deepEqual(await holiday(), { from: '2026-03-20', back: '2026-03-29', own: true });
  assert.deepEqual(await violations(page), []);
  await form.getByRole('button', { name: 'I am back, or cancel it' }).click();
  await form.getByLabel('Away from').waitFor();
  assert.equal((await holiday()).back, '');
  await context.close();
});

job('a request that cannot be planned is refused in the reader’s language', async () => {
  const context = await visitor({ locale: 'de-DE' });
  const page = await look(context, `${PAGE}/#/plan`);
  await page.route('**/api/plans?*', (route) => route.fulfill({ status: 409, contentType: 'application/problem+json', body: JSON.stringify({ status: 409, code: 'ask', title: 'Conflict', detail: 'That is more than 10 days away. Plan it later.', say: { key: 'plan.asked.far', args: { n: 10 } } }) }));
  await page.getByRole('button', { name: 'Pläne zeigen' }).click();
  await page.getByText('Das ist mehr als 10 Tage hin. Plane es später.').waitFor();
  forgive(); // the browser complains of every answer of 409
  await context.close();
});
};
