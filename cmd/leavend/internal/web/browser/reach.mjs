// From this board only to a phone: the page is opened to the home network, the
// code on it is photographed, and the phone feeds a jar.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { ARTEFACTS, job, look, until, violations, visitor } from './kit.mjs';

const { OPENABLE } = process.env;
const PASSWORD = 'flour and water';

export default () => {
job('a phone reaches the page, from the settings on', async () => {
  const board = await visitor({ ignoreHTTPSErrors: true });
  const page = await look(board, `${OPENABLE}/#/setup`, /Failed to load|net::|SSL|ERR_|401|blocked by CORS/); // the daemon goes and comes back in another way
  const part = page.locator('.reach');
  await part.getByText('Only this board reaches the page now.').waitFor();
  await part.getByRole('button', { name: 'Not encrypted' }).click();
  await part.getByText('whoever is in your network can read along').waitFor();
  await part.getByRole('button', { name: 'Encrypted', exact: true }).click();
  await part.getByLabel('New password').fill(PASSWORD);
  assert.deepEqual(await violations(page), []);
  await part.getByRole('button', { name: 'Open it to the home network' }).click();
  await part.getByText('Done. leavend is starting again.').waitFor();
  const address = await part.locator('li a').first().getAttribute('href');
  assert.match(address, /^https:/);
  assert.deepEqual(await violations(page), []);
  const photo = `${ARTEFACTS}/reach-code.png`;
  await until('the code can be read', async () => { // a notice that comes or goes moves it
    await part.locator('svg.qr').screenshot({ path: photo });
    return spawnSync('zbarimg', ['-q', '--raw', photo], { encoding: 'utf8' }).stdout.trim() === address;
  });
  await page.screenshot({ path: `${ARTEFACTS}/reach.png`, fullPage: true });
  await board.close();

  // The phone. What it types without a scheme goes on to TLS.
  const phone = await visitor({ ignoreHTTPSErrors: true, serviceWorkers: 'block' });
  const there = await phone.newPage();
  for (let tries = 0; ; tries += 1) { // until the daemon is back
    try {
      await there.goto(`${address.replace('https', 'http')}/#/now`);
      break;
    } catch (err) {
      if (tries > 1000) throw err;
      await new Promise((r) => setTimeout(r, 100));
    }
  }
  await there.waitForURL((url) => url.protocol === 'https:');
  const dialog = there.getByRole('dialog');
  await dialog.getByLabel('Password').fill(PASSWORD);
  await dialog.getByRole('button', { name: 'Sign in' }).click();
  await dialog.waitFor({ state: 'detached' });
  await there.getByRole('button', { name: 'I fed it: Bramble' }).click();
  await there.getByText('Fed at').first().waitFor();
  await phone.close();
});
};
