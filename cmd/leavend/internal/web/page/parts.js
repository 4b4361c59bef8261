// Pieces that several screens share.

import { h, set } from './dom.js';
import { t } from './text.js';

// vesselTabs lists the vessels as links to the same screen; with a single one
// there is nothing to choose.
export function vesselTabs(screen, vessels, current) {
  if (vessels.length < 2) return null;
  return h('div', { class: 'tabs', role: 'navigation', 'aria-label': t('common.vessels') },
    vessels.map((v) => h('a', { href: `#/${screen}/${encodeURIComponent(v.id)}`, 'aria-current': v.id === current ? 'true' : null }, v.name)));
}

// pick finds the vessel an address names, or the one looked at last, or the
// first.
export function pick(kitchen, id) {
  const find = (x) => kitchen.vessels.find((v) => v.id === x);
  let last = null;
  try {
    last = sessionStorage.getItem('leavend.vessel');
  } catch { /* nothing is kept here */ }
  const v = find(id) || find(last) || kitchen.vessels[0] || null;
  try {
    if (v) sessionStorage.setItem('leavend.vessel', v.id);
  } catch { /* nothing is kept here */ }
  return v;
}

// choices is a row of buttons of which one is pressed.
export function choices(label, list, current, chosen) {
  const row = h('div', { class: 'choices', role: 'group', 'aria-label': label });
  const buttons = list.map(([value, text]) => h('button', {
    type: 'button', 'data-value': value, 'aria-pressed': String(value === current),
    onclick: () => { row.choose(value); chosen(value); },
  }, text));
  row.choose = (value) => buttons.forEach((b) => set(b, 'aria-pressed', String(b.dataset.value === value)));
  row.append(...buttons);
  return row;
}

let serial = 0;

// field is a labelled input.
export function field(label, input, hint) {
  const id = `field-${serial += 1}`;
  set(input, 'id', id);
  const note = hint && h('span', { class: 'hint', id: `${id}-hint` }, hint);
  if (note) set(input, 'aria-describedby', `${id}-hint`);
  return h('div', { class: 'field' }, h('label', { for: id }, label), input, note);
}

// table makes a table with a caption and a head.
export function table(caption, head, rows) {
  return h('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': caption },
    h('table', {}, h('caption', { class: 'unseen' }, caption),
      h('thead', {}, h('tr', {}, head.map((t) => h('th', { scope: 'col' }, t)))),
      h('tbody', {}, rows.map((r) => h('tr', {}, r.map((t, i) => (i === 0 ? h('th', { scope: 'row' }, t) : h('td', {}, t))))))));
}

// nothingYet stands where a screen has nothing to show before the set-up.
export const nothingYet = () => h('div', { class: 'lonely' }, h('p', { class: 'lonely-title' }, t('banner.no_vessel')), h('p', { class: 'quiet' }, t('banner.no_vessel_ways')),
  h('div', { class: 'row' }, h('a', { class: 'button strong', href: '#/new' }, t('banner.no_vessel_link'))));

// download hands the reader a file that is made here: rows of a table as CSV
// (RFC 4180).
export function download(name, head, rows) {
  const cell = (x) => (x === null || x === undefined ? '' : /[",\r\n]/.test(String(x)) ? `"${String(x).replaceAll('"', '""')}"` : String(x));
  const text = [head, ...rows].map((r) => `${r.map(cell).join(',')}\r\n`).join('');
  const link = h('a', { href: URL.createObjectURL(new Blob([text], { type: 'text/csv' })), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
