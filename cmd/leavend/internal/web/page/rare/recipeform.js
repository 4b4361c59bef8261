// The form of one recipe: what goes in, in baker's percentages, and its stages.
// What the form does not show stays as it was.

import { h, say } from '../dom.js';
import { t } from '../text.js';
import { field } from '../parts.js';
import { flourInput, flourKind } from '../flours.js';
import { gramsIn, gramsOut, weightSign } from '../units.js';
import { amount, of, round } from './amount.js';
import { stageList } from './stages.js';

export const flourSum = (r) => r.flours.reduce((sum, f) => sum + f.grams, 0);

// recipeForm shows a recipe; save gets it as it was filled in.
export function recipeForm(r, { save, cancel, restore, drop }) {
  const name = h('input', { type: 'text', required: true, maxlength: 60, autocomplete: 'off' });
  name.value = r.name;
  const flours = flourRows(r.flours);
  const share = (g) => 100 * g / (flourSum(r) || 1);
  const parts = { water_g: amount(share(r.water_g), { max: 200 }), starter_g: amount(share(r.starter_g), { min: 1, max: 200 }), salt_g: amount(share(r.salt_g), { max: 10 }) };
  const stages = stageList(r.stages);
  const sum = h('p', { class: 'sum', role: 'status' });

  function filled() {
    const list = flours.value();
    const all = flourSum({ flours: list });
    const weights = Object.fromEntries(Object.entries(parts).map(([key, input]) => [key, round(all * of(input) / 100)]));
    return { ...r, ...weights, own: true, name: name.value.trim(), flours: list, stages: stages.value() };
  }

  function total() {
    const n = filled();
    const flour = flourSum(n);
    // Half of a starter of equal weights is flour, the other half water.
    const hydration = Math.round(100 * (n.water_g + n.starter_g / 2) / (flour + n.starter_g / 2));
    say(sum, flour ? t('recipe.sum', { flour, water: n.water_g, starter: n.starter_g, salt: n.salt_g, total: flour + n.water_g + n.starter_g + n.salt_g, hydration }) : '');
  }
  const el = h('form', { class: 'recipe-form', oninput: total, onsubmit: (e) => { e.preventDefault(); if (stages.fits()) save(filled()); } },
    field(t('recipe.name'), name),
    h('h3', {}, t('recipe.dough')), flours.el,
    h('div', { class: 'three' }, Object.entries(parts).map(([key, input]) => field(t(`recipe.${key}`), input))), h('p', { class: 'hint' }, t('recipe.percent')), sum,
    h('h3', {}, t('recipe.stages')), stages.el,
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('common.save')), h('button', { type: 'button', onclick: cancel }, t('common.cancel')),
      restore && h('button', { type: 'button', onclick: restore }, t('recipe.restore')),
      drop && h('button', { type: 'button', class: 'danger', onclick: drop }, t('common.remove'))));
  total();
  return el;
}

// flourRows are the flours with their weights.
function flourRows(list) {
  const el = h('div', {});
  const unit = weightSign();
  const rows = h('div', {});
  const add = (f) => {
    const kind = flourInput(f.kind);
    const weight = amount(f.grams && gramsOut(f.grams), { max: 20000, required: false });
    rows.append(h('div', { class: 'flour' }, field(t('feed_form.flour'), kind), field(t('feed_form.flour_weight', { unit }), weight)));
  };
  list.forEach(add);
  el.append(rows, h('button', { type: 'button', class: 'small', onclick: () => { add({ kind: '', grams: 0 }); rows.lastChild.querySelector('input').focus(); } }, t('feed_form.another_flour')));
  return {
    el,
    value: () => [...rows.children].map((row) => {
      const [kind, weight] = row.querySelectorAll('input');
      return { kind: flourKind(kind.value) || 'flour', grams: round(gramsIn(of(weight))) };
    }).filter((f) => f.grams > 0),
  };
}
