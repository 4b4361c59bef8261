// The form of one recipe: what goes in, in baker's percentages, and how its
// stages are made. What the form does not show stays as it was.

import { h, say, show } from '../dom.js';
import { capital, stage, t } from '../text.js';
import { field } from '../parts.js';
import { flourInput, flourKind } from '../flours.js';
import { degreesIn, degreesOf, degreeSign, gramsIn, gramsOut, weightSign } from '../units.js';

const round = (x) => Math.round(x * 100) / 100;

// amount is an input for a number; it may be left empty where nothing is meant.
function amount(value, { max, min = 0, required = true }) {
  const el = h('input', { type: 'number', inputmode: 'decimal', min, max, step: 'any', required });
  el.value = value || value === 0 ? round(value) : '';
  return el;
}
const of = (input) => Number(input.value) || 0;

export const flourSum = (r) => r.flours.reduce((sum, f) => sum + f.grams, 0);

// recipeForm shows a recipe; save gets it as it was filled in.
export function recipeForm(r, { save, cancel, drop }) {
  const name = h('input', { type: 'text', required: true, maxlength: 60, autocomplete: 'off' });
  name.value = r.name;
  const flours = flourRows(r.flours);
  const share = (g) => 100 * g / (flourSum(r) || 1);
  const parts = { water_g: amount(share(r.water_g), { max: 200 }), starter_g: amount(share(r.starter_g), { min: 1, max: 200 }), salt_g: amount(share(r.salt_g), { max: 10 }) };
  const stages = r.stages.map(stagePart);
  const sum = h('p', { class: 'sum', role: 'status' });

  function filled() {
    const list = flours.value();
    const all = flourSum({ flours: list });
    const weights = Object.fromEntries(Object.entries(parts).map(([key, input]) => [key, round(all * of(input) / 100)]));
    return { ...r, ...weights, own: true, name: name.value.trim(), flours: list, stages: stages.map((s) => s.value()) };
  }

  function total() {
    const n = filled();
    const flour = flourSum(n);
    // Half of a starter of equal weights is flour, the other half water.
    const hydration = Math.round(100 * (n.water_g + n.starter_g / 2) / (flour + n.starter_g / 2));
    say(sum, flour ? t('recipe.sum', { flour, water: n.water_g, starter: n.starter_g, salt: n.salt_g, total: flour + n.water_g + n.starter_g + n.salt_g, hydration }) : '');
  }
  const el = h('form', { class: 'recipe-form', oninput: total, onsubmit: (e) => { e.preventDefault(); save(filled()); } },
    field(t('recipe.name'), name),
    h('h3', {}, t('recipe.dough')), flours.el,
    h('div', { class: 'three' }, Object.entries(parts).map(([key, input]) => field(t(`recipe.${key}`), input))), h('p', { class: 'hint' }, t('recipe.percent')), sum,
    h('h3', {}, t('recipe.stages')), stages.map((s) => s.el),
    h('p', { class: 'hint' }, t('reach.restarts')),
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('common.save')), h('button', { type: 'button', onclick: cancel }, t('common.cancel')),
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

// stagePart is one stage: its time, and what belongs to its kind.
function stagePart(s) {
  const rises = s.kind === 'rise';
  const scale = rises ? 60 : 1; // rises are said in hours, work and rests in minutes
  const time = amount(s.minutes / scale, { min: rises ? 0.25 : 1, max: 72 * 60 / scale });
  const fields = [field(t(rises ? 'recipe.hours' : 'recipe.minutes'), time)];
  const parts = { minutes: () => of(time) * scale };
  const put = (key, label, input, back = (v) => v) => {
    fields.push(field(label, input));
    parts[key] = () => back(of(input));
  };
  if (rises) put('at_c', t('recipe.at', { unit: degreeSign() }), amount(degreesOf(s.at_c), { min: Math.ceil(degreesOf(4)), max: Math.floor(degreesOf(40)) }), (v) => round(degreesIn(v)));
  if (rises && !s.fridge_longest) foldFields(s, put);
  if (s.oven_before) put('oven_before', t('recipe.oven_before'), amount(s.oven_before, { max: 180 }));
  const cold = rises && fridgePart(s);
  const name = capital(stage(s.name));
  const el = h('div', { class: 'stage-form', role: 'group', 'aria-label': name }, h('strong', {}, name), h('div', {}, h('div', { class: 'three' }, fields), cold && cold.el));
  return { el, value: () => ({ ...s, ...Object.fromEntries(Object.entries(parts).map(([key, get]) => [key, get()])), ...(cold ? cold.value() : {}) }) };
}

function foldFields(s, put) {
  put('folds', t('recipe.folds'), amount(s.folds || 0, { max: 8 }), Math.round);
  put('folds_every', t('recipe.folds_every'), amount(s.folds_every || 30, { min: 10, max: 180 }));
}

// fridgePart says whether a rise may be in the fridge instead, and for how long.
function fridgePart(s) {
  const may = h('input', { type: 'checkbox' });
  may.checked = Boolean(s.fridge_longest);
  const low = amount((s.fridge_shortest || 480) / 60, { min: 1, max: 96 });
  const high = amount((s.fridge_longest || 960) / 60, { min: 1, max: 96 });
  const span = h('div', { class: 'three' }, field(t('recipe.fridge_from'), low), field(t('recipe.fridge_to'), high));
  may.addEventListener('change', () => show(span, may.checked));
  show(span, may.checked);
  return {
    el: h('div', {}, h('label', { class: 'tick' }, may, t('recipe.fridge')), span),
    value: () => (may.checked ? { fridge_shortest: of(low) * 60, fridge_longest: of(high) * 60 } : { fridge_shortest: 0, fridge_longest: 0 }),
  };
}
