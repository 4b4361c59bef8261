// Draws the pictures of the README from the demo: the page by day and by
// night, and a jar that rises, peaks and falls.
//
//   node pictures.mjs LEAVEND FOLDER
//
// LEAVEND is the built program, FOLDER receives the pictures. It needs
// Debian's packages chromium and webp, and takes about two minutes.

import { execFileSync, spawn } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { chromium } from 'playwright-core';

const [program, folder] = process.argv.slice(2);
if (!folder) throw new Error('use: node pictures.mjs LEAVEND FOLDER');

// The demo runs at the speed of ten kitchen minutes a second, so a frame each
// 1.5 seconds is a quarter of an hour.
const FRAMES = 44;
const EVERY_MS = 1500;
const SHOWN_MS = 140;

// demo starts the program and resolves to the address of its page.
function demo() {
  const child = spawn(program, ['demo', '--any-ports'], { stdio: ['ignore', 'pipe', 'inherit'] });
  return new Promise((resolve, reject) => {
    let printed = '';
    child.on('exit', () => reject(new Error(`the demo ended: ${printed}`)));
    child.stdout.on('data', (chunk) => {
      printed += chunk;
      const address = printed.match(/http:\/\/127\.0\.0\.1:\d+\/(?!metrics)/);
      if (address) resolve({ child, address: address[0] });
    });
  });
}

async function page(browser, address, colorScheme, viewport) {
  const context = await browser.newContext({ viewport, colorScheme, locale: 'en-GB', deviceScaleFactor: 1 });
  const opened = await context.newPage();
  await opened.goto(`${address}#/now`);
  await opened.locator('article').nth(2).waitFor();
  await opened.evaluate(() => document.fonts.ready);
  return opened;
}

// rise takes the frames of the moving picture, all of one size, and the page
// once when the jar is ready.
async function rise(phone, card, frames, takePage) {
  const { y } = await card.boundingBox();
  const clip = { x: 0, y: Math.max(0, y - 8), width: 390, height: 462 };
  let taken = false;
  for (let i = 0; i < FRAMES; i++) {
    const began = Date.now();
    await phone.screenshot({ path: path.join(frames, `${String(i).padStart(3, '0')}.png`), clip });
    if (!taken && await card.getByText('Ready now').count()) {
      await takePage();
      taken = true;
    }
    await sleep(Math.max(0, EVERY_MS - (Date.now() - began)));
  }
  if (!taken) throw new Error('the jar was never ready within the moving picture');
}

const { child, address } = await demo();
const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--headless', '--no-sandbox'] });
const frames = fs.mkdtempSync(path.join(os.tmpdir(), 'rise-'));
try {
  const wide = { width: 1280, height: 690 };
  const light = await page(browser, address, 'light', wide);
  const dark = await page(browser, address, 'dark', wide);
  const phone = await page(browser, address, 'light', { width: 390, height: 844 });
  const card = phone.locator('article').first();
  await card.getByText('Just fed').waitFor({ timeout: 180_000 });
  await rise(phone, card, frames, async () => {
    await light.screenshot({ path: path.join(frames, 'page-light.png') });
    await dark.screenshot({ path: path.join(frames, 'page-dark.png') });
  });
  for (const name of ['page-light', 'page-dark']) {
    execFileSync('cwebp', ['-quiet', '-lossless', '-z', '9', path.join(frames, `${name}.png`), '-o', path.join(folder, `${name}.webp`)]);
  }
  const stills = fs.readdirSync(frames).filter((f) => /^\d+\.png$/.test(f)).sort().map((f) => path.join(frames, f));
  execFileSync('img2webp', ['-loop', '0', '-lossy', '-q', '60', '-m', '6', '-d', String(SHOWN_MS), ...stills, '-o', path.join(folder, 'rise.webp')]);
} finally {
  child.kill();
  await browser.close();
  fs.rmSync(frames, { recursive: true });
}
