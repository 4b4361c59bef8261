// Telling somebody, from the settings on.

import assert from 'node:assert/strict';
import { ARTEFACTS, PAGE, job, look, violations, visitor } from './kit.mjs';

export default () => {
job('somebody is told, after a test', async () => {
  const context = await visitor();
  const page = await look(context, `${PAGE}/#/setup`, /409/);
  const part = page.locator('section', { has: page.getByRole('heading', { name: 'Who else is told' }) });
  await part.getByText('Add a recipient').click();
  assert.equal(await part.getByLabel('Quiet from').inputValue(), '22:30'); // the hours of sleep
  assert.equal(await part.getByLabel('Who').inputValue(), 'phone');
  await part.getByLabel('How').selectOption('ntfy');
  await part.getByLabel('Address').fill('ntfy://unreachable.example/x');
  await part.getByRole('button', { name: 'Send a test' }).click();
  await page.getByText('The test was not taken').waitFor();
  await part.getByLabel('Address').fill('ntfy://ntfy.example/my-kitchen');
  await part.getByRole('button', { name: 'Send a test' }).click();
  await part.getByText('The service accepted the test').waitFor();
  await part.getByLabel('Dough').uncheck();
  assert.deepEqual(await violations(page), []);
  await page.screenshot({ path: `${ARTEFACTS}/messages.png`, fullPage: true });
  await part.getByRole('button', { name: 'Save and restart' }).click();
  await part.getByText('Saved. leavend is starting again.').waitFor();
  const { recipients } = await (await fetch(`${PAGE}/api/v1/messages`)).json();
  assert.deepEqual(recipients, [{ name: 'phone', kind: 'ntfy', about: ['peak', 'feeding', 'plan', 'faults'], quiet_from: '22:30', quiet_to: '06:30' }]);
  await part.getByText('Quiet from 22:30 to 06:30.').waitFor();
  assert.deepEqual(await violations(page), []);
  await context.close();
});
};
