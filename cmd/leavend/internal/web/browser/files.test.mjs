// The page's files: every word exists and is used, vendored files are what
// their makers published.

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

test('every word that is asked for exists, and none is left over', async () => {
  const { words } = await import(path.join(page, 'words.js'));
  const used = new Set();
  for (const f of sources) {
    for (const [, chain] of read(f).matchAll(/(?<!\/)\bwords\.((?:\w+)(?:\.\w+)*)/g)) {
      let at = words;
      let name = '';
      for (const part of chain.split('.')) {
        if (typeof at !== 'object' || at === null) break; // the rest is a method of a string or function
        name = name ? `${name}.${part}` : part;
        assert.ok(part in at, `${f}: words.${name} does not exist`);
        used.add(name);
        at = at[part];
      }
    }
  }
  const text = sources.map(read).join('\n');
  const left = [];
  const walk = (o, prefix) => {
    for (const [k, v] of Object.entries(o)) {
      const name = prefix + k;
      if (typeof v === 'object') {
        if (!used.has(name)) left.push(name);
        // A group that is asked for by a computed name may use any of its words.
        if (!new RegExp(`words\\.${name.replaceAll('.', '\\.')}\\[`).test(text) && !/^(legend|mat\.gauge|against|col|fact|was|isNow)$/.test(name)) walk(v, `${name}.`);
      } else if (!used.has(name)) left.push(name);
    }
  };
  walk(words, '');
  assert.deepEqual(left, []);
});

test('no text is written outside the file of words', () => {
  for (const f of sources) {
    if (f === 'words.js') continue;
    const found = [...read(f).replace(/\/\/.*$/gm, '').matchAll(/(?:h\([^)]*\}, |say\(\w+, )'([A-Z][a-z]+ [^']*)'/g)].map((m) => m[1]);
    assert.deepEqual(found, [], f);
  }
});
