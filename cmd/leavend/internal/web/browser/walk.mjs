// Setting up a jar from the page, in a real browser.

import assert from 'node:assert/strict';
import { ARTEFACTS, PAGE, job, look, violations, visitor } from './kit.mjs';

export default () => {
job('a jar is set up, step by step', async () => {
  const context = await visitor();
  const page = await look(context, `${PAGE}/#/new`);
  await page.getByRole('heading', { name: 'A new jar or bowl' }).waitFor();
  await page.getByText('i2c bus 3').waitFor();
  await page.getByRole('button', { name: 'Read it: a DS18B20' }).click();
  await page.getByText('It reads 23.5 °C; 1 attempt failed.').waitFor();
  await page.getByLabel('Name').fill('Bramble');
  await page.getByRole('button', { name: 'Measure the empty jar' }).click();
  await page.getByText('The bottom is 171 mm below the sensor.').waitFor();
  // Each shape holds what it says, by the volume of a cylinder.
  for (const [i, text] of (await page.getByLabel('Shape').locator('option').allTextContents()).slice(1).entries()) {
    await page.getByLabel('Shape').selectOption({ index: i + 1 });
    const [wide, high] = [Number(await page.getByLabel('Inside width, mm').inputValue()), Number(await page.getByLabel('Inside height, mm').inputValue())];
    const litres = Number(text.match(/([\d.]+)\sl:/)[1]);
    assert.ok(Math.abs((Math.PI / 4) * wide * wide * high / 1e6 / litres - 1) < 0.05, `${text}: ${wide} and ${high}`);
  }
  await page.getByRole('button', { name: 'On a pin of this board' }).click();
  await page.getByText('not a safety device').first().waitFor();
  // The cautions hold the form up until they are accepted.
  await page.getByRole('button', { name: 'Review' }).click();
  assert.equal(await page.getByRole('button', { name: 'Save and start' }).count(), 0);
  await page.locator('.tick input').check();
  await page.getByRole('button', { name: 'Review' }).click();
  await page.getByRole('button', { name: 'Save and start' }).waitFor();
  await page.screenshot({ path: `${ARTEFACTS}/walk-phone.png`, fullPage: true });
  assert.deepEqual(await violations(page), []);
  await page.getByRole('button', { name: 'Save and start' }).click();
  await page.getByRole('link', { name: 'See it' }).waitFor();
  const found = await (await fetch(`${PAGE}/api/walk`)).json();
  assert.deepEqual(found.vessels, ['Bramble']);
  await context.close();
});
};
