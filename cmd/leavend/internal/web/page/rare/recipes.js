// The recipes that plans are made for: those that leavend brings along, and the
// baker's own.

import { ask, h, say } from '../dom.js';
import { capital, t } from '../text.js';
import { grams } from '../units.js';
import { flourName } from '../flours.js';
import { flourSum, recipeForm } from './recipeform.js';
import { put, read, remove } from '../api.js';

export function open(root, app) {
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const place = h('div', {});
  root.append(h('div', { class: 'sheet' }, h('p', {}, h('a', { href: '#/plan' }, t('recipe.back'))), h('h1', {}, t('recipe.title')), h('p', {}, t('recipe.lead')), fails, place));
  let all = [];
  let removed = [];
  load();

  async function load() {
    try {
      const book = await read('recipes');
      all = book.recipes;
      removed = book.removed;
      list();
    } catch (err) {
      say(fails, err.message);
    }
  }

  function list() {
    place.replaceChildren(h('ul', { class: 'plain-list' }, all.map((r) => h('li', { class: 'move' },
      h('div', {}, h('strong', {}, capital(r.name)), ' ', (r.changed || !r.own) && h('span', { class: 'tag' }, t(r.changed ? 'recipe.changed' : 'recipe.example')), h('p', { class: 'quiet' }, summary(r))),
      h('button', { type: 'button', class: 'small', 'aria-label': t('recipe.edit_of', { name: capital(r.name) }), onclick: () => edit(r, r.name) }, t('common.edit'))))),
    h('div', { class: 'row' }, h('button', { type: 'button', onclick: () => edit({ ...all[0], name: '', own: false, changed: false }, null) }, t('recipe.add'))),
    removed.length ? h('h2', {}, t('recipe.removed')) : '',
    removed.length ? h('div', { class: 'row' }, removed.map((name) => h('button', { type: 'button', class: 'small', onclick: () => restore(name) }, t('recipe.put_back', { name: capital(name) })))) : '');
  }

  // edit shows the form; was is the name in whose place the recipe is saved, null for a
  // new one.
  function edit(r, was) {
    const form = recipeForm(r, {
      save: async (n) => changed(() => put(path(was ?? n.name), n, was === null ? { 'If-None-Match': '*' } : {})),
      cancel: list,
      restore: r.changed && (() => restore(r.name)),
      drop: was !== null && all.length > 1 && (async () => {
        if (await agreed(r.name)) changed(() => remove(path(r.name)));
      }),
    });
    place.replaceChildren(h('h2', {}, was === null ? t('recipe.add') : t('recipe.edit_of', { name: capital(r.name) })), was === null ? startFrom(r) : '', form);
    form.querySelector('input').focus();
  }

  const path = (name) => `recipes/${encodeURIComponent(name)}`;
  const restore = (name) => changed(() => remove(`${path(name)}/change`));

  // startFrom lets a new recipe begin as a copy of another.
  function startFrom(r) {
    const select = h('select', { 'aria-label': t('recipe.like') }, all.map((o, i) => h('option', { value: i, selected: o.stages === r.stages }, capital(o.name))));
    select.addEventListener('change', () => edit({ ...all[Number(select.value)], name: '', own: false, changed: false }, null));
    return h('div', { class: 'field' }, h('p', { class: 'quiet' }, t('recipe.like')), select);
  }

  async function changed(act) {
    if (!(await app.change(() => act().then(() => true)))) return;
    app.announce(t('common.saved'));
    await load();
  }
  return { show() {}, close() {} };
}

// summary is what goes in, in one line.
function summary(r) {
  const flour = flourSum(r);
  return t('recipe.summary', { flours: r.flours.map((f) => `${grams(f.grams)} ${flourName(f.kind)}`).join(', '), water: r.water_g / flour, starter: r.starter_g / flour, salt: r.salt_g / flour });
}

async function agreed(name) {
  const title = t('recipe.remove_ask', { name: capital(name) });
  return (await ask(h('dialog', { 'aria-label': title }, h('form', { method: 'dialog' }, h('h2', {}, title),
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'yes' }, t('common.remove')), h('button', { value: '', formnovalidate: true }, t('common.cancel'))))))) === 'yes';
}
