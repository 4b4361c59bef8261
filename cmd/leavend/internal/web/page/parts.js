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
