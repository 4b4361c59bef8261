// The page's files: vendored files are what their makers published, and no
// text stands outside the catalogue.

import test from 'node:test';
import assert from 'node:assert/strict';
import fs from 'node:fs';
import path from 'node:path';

const here = path.dirname(new URL(import.meta.url).pathname);
const page = path.join(here, '../page');
const modules = path.join(here, 'node_modules');
const sources = fs.readdirSync(page, { recursive: true }).filter((f) => f.endsWith('.js') && !f.startsWith('vendor'));
const read = (f) => fs.readFileSync(path.join(page, f), 'utf8');

test('vendored files are unchanged', () => {
  for (const [ours, theirs] of [['vendor/uPlot.iife.min.js', 'uplot/dist/uPlot.iife.min.js'], ['vendor/uPlot.min.css', 'uplot/dist/uPlot.min.css'], ['vendor/uPlot-LICENSE.txt', 'uplot/LICENSE'],
    ['vendor/vollkorn.woff2', '@fontsource-variable/vollkorn/files/vollkorn-latin-wght-normal.woff2'], ['vendor/vollkorn-LICENSE.txt', '@fontsource-variable/vollkorn/LICENSE']]) {
    assert.ok(fs.readFileSync(path.join(page, ours)).equals(fs.readFileSync(path.join(modules, theirs))), ours);
  }
});

test('no text is written outside the catalogue', () => {
  for (const f of sources) {
    const found = [...read(f).replace(/\/\/.*$/gm, '').matchAll(/(?:h\([^)]*\}, |say\(\w+, )'([A-Z][a-z]+ [^']*)'/g)].map((m) => m[1]);
    assert.deepEqual(found, [], f);
  }
});
