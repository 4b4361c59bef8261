// The stages of a recipe: their order, how each is made, and what goes in at which.

import { h, say, set, show } from '../dom.js';
import { capital, stage, t } from '../text.js';
import { field } from '../parts.js';
import { degreesIn, degreesOf, degreeSign } from '../units.js';
import { amount, of, round } from './amount.js';

const MOST = 12;
const ADDED = ['flour', 'water', 'starter', 'salt'];

// The stages that a baker may add, in the order in which bread is made. Their times
// are common practice.
const KNOWN = [
  { name: 'autolyse', kind: 'hands', minutes: 10 }, { name: 'soak', kind: 'rest', minutes: 40, late: 1 }, { name: 'mix', kind: 'hands', minutes: 20 },
  { name: 'bulk', kind: 'rise', minutes: 390, at_c: 25, rise: 1, early: 0.12, late: 0.2 },
  { name: 'preshape', kind: 'hands', minutes: 10 }, { name: 'bench rest', kind: 'rest', minutes: 20, late: 1 }, { name: 'shape', kind: 'hands', minutes: 20 },
  { name: 'proof', kind: 'rise', minutes: 120, at_c: 25, early: 0.2, late: 0.35, fridge_shortest: 480, fridge_longest: 960 },
  { name: 'bake', kind: 'hands', minutes: 40, oven_before: 20 }, { name: 'cool', kind: 'rest', minutes: 90, late: 2 },
];
const OWN = {
  hands: { kind: 'hands', minutes: 15 }, rise: { kind: 'rise', minutes: 120, at_c: 25, early: 0.12, late: 0.2 }, rest: { kind: 'rest', minutes: 30, late: 1 },
};
const keyOf = (name) => KNOWN.find((k) => stage(k.name).toLowerCase() === name.trim().toLowerCase())?.name || name.trim();

// stageList shows stages that can be added, moved and removed.
export function stageList(list) {
  const rows = h('div');
  const moved = h('p', { class: 'unseen', role: 'status' });
  const wrong = h('p', { class: 'wrong', role: 'alert' });
  const kind = h('select');
  const add = h('button', { type: 'button', onclick: () => { insert(kind.value); } }, t('recipe.stage_add_button'));
  const parts = () => [...rows.children].map((row) => row.made);
  const said = list.some((s) => s.adds?.length);

  function append(s, before = null) {
    const part = stagePart(s, { up: () => move(part, -1), down: () => move(part, 1), drop: () => drop(part), added: (what) => parts().forEach((p) => p !== part && p.untick(what)) });
    part.el.made = part;
    rows.insertBefore(part.el, before);
    return part;
  }
  list.forEach((s, i) => append(said || i ? s : { ...s, adds: ADDED }));

  // insert puts a stage that is known where it usually comes, and another one last.
  function insert(name) {
    const place = KNOWN.findIndex((k) => k.name === name);
    const after = place < 0 ? null : parts().find((p) => KNOWN.findIndex((k) => k.name === p.name()) > place);
    const part = append({ ...(KNOWN[place] || { ...OWN[name], name: '' }) }, after?.el || null);
    if (name === 'autolyse') ['flour', 'water'].forEach(part.tick);
    arrange();
    part.el.querySelector('input').focus();
  }

  function move(part, by) {
    const { el } = part;
    rows.insertBefore(el, by < 0 ? el.previousSibling : el.nextSibling.nextSibling);
    arrange();
    part.focusMove(by);
    say(moved, t('recipe.stage_moved', { name: part.title(), at: parts().indexOf(part) + 1, of: parts().length }));
  }

  function drop(part) {
    const next = part.el.nextSibling || part.el.previousSibling;
    const left = part.ticked();
    part.el.remove();
    const heir = parts().find((p) => p.works);
    left.forEach((what) => heir?.tick(what)); // what it added goes in at the first work
    arrange();
    (next ? next.made.dropButton : add).focus();
  }

  // arrange follows a change of the order or of what is filled in.
  function arrange() {
    const all = parts();
    const rise = all.findIndex((p) => p.kind === 'rise');
    all.forEach((p, i) => p.stands(i, all.length, p.works && (rise < 0 || i < rise || p.ticked().length > 0)));
    const taken = new Set(all.map((p) => p.name()));
    const chosen = kind.value;
    kind.replaceChildren(...KNOWN.filter((k) => !taken.has(k.name)).map((k) => h('option', { value: k.name }, capital(stage(k.name)))),
      ...Object.keys(OWN).map((k) => h('option', { value: k }, t(`recipe.own_stage.${k}`))));
    if ([...kind.options].some((o) => o.value === chosen)) kind.value = chosen;
    add.disabled = all.length >= MOST;
    say(wrong, amiss(all));
  }
  arrange();

  return {
    el: h('div', { oninput: arrange }, rows, moved, wrong, h('div', { class: 'stage-add' }, field(t('recipe.stage_add'), kind), add)),
    fits: () => wrong.textContent === '',
    value: () => {
      const all = parts();
      const plain = all[0]?.ticked().length === ADDED.length; // all at the first stage, which needs no word
      return all.map((p) => ({ ...p.value(), adds: plain ? [] : p.ticked() }));
    },
  };
}

// amiss says what no plan could be made of, "" where all is well.
function amiss(all) {
  if (!all.length || !all[0].works) return t('recipe.amiss.first');
  const wait = all.findIndex((p, i) => i && !p.works && !all[i - 1].works);
  if (wait > 0) return t('recipe.amiss.waits', { first: all[wait - 1].title(), second: all[wait].title() });
  const end = all.at(-1).kind === 'rest' && all.length > 1 ? all.at(-2) : all.at(-1);
  if (!end.works) return t('recipe.amiss.last', { name: end.title() });
  const twice = all.find((p, i) => p.name() && all.findIndex((o) => o.name() === p.name()) < i);
  if (twice) return t('recipe.amiss.twice', { name: twice.title() });
  const missing = ADDED.find((what) => !all.some((p) => p.ticked().includes(what)));
  if (missing) return t('recipe.amiss.adds', { what: t(`plan.ingredient.${missing}`) });
  const joins = all.findIndex((p) => p.ticked().includes('starter'));
  const early = all.slice(0, joins).find((p) => p.kind === 'rise');
  return early ? t('recipe.amiss.early', { name: early.title() }) : '';
}

// stagePart is one stage: its place, its time, and what belongs to its kind.
function stagePart(s, { up, down, drop, added }) {
  const own = s.name === '' && h('input', { type: 'text', required: true, maxlength: 60, autocomplete: 'off' });
  const name = () => (own ? keyOf(own.value) : s.name);
  const title = () => capital(stage(name())) || t('recipe.stage_new');
  const heading = h('strong');
  const button = (text, act) => h('button', { type: 'button', class: 'small', onclick: act }, text);
  const buttons = { up: button('↑', up), down: button('↓', down), remove: button('×', drop) };
  const fields = timeFields(s);
  const cold = s.kind === 'rise' && fridgePart(s);
  const goesIn = additions(s.adds || [], added);
  const el = h('div', { class: 'stage-form', role: 'group' },
    h('div', { class: 'stage-head' }, heading, h('div', { class: 'row' }, Object.values(buttons))),
    h('div', {}, own && field(t('recipe.stage_name'), own), h('div', { class: 'three' }, fields.els), goesIn.el, cold && cold.el));

  return {
    el, kind: s.kind, works: s.kind === 'hands', name, title, dropButton: buttons.remove,
    ticked: goesIn.value, tick: (what) => goesIn.set(what, true), untick: (what) => goesIn.set(what, false),
    focusMove: (by) => [by < 0 ? buttons.up : buttons.down, by < 0 ? buttons.down : buttons.up].find((b) => !b.disabled)?.focus(),
    stands(i, n, adds) {
      say(heading, title());
      set(el, 'aria-label', title());
      for (const [key, b] of Object.entries(buttons)) set(b, 'aria-label', t(`recipe.stage_${key}`, { name: title() }));
      buttons.up.disabled = i === 0;
      buttons.down.disabled = i === n - 1;
      show(goesIn.el, adds);
    },
    value: () => ({ ...s, name: name(), ...fields.value(), ...(cold ? cold.value() : {}) }),
  };
}

// timeFields are the numbers of a stage. Rises are said in hours, work and waits in
// minutes.
function timeFields(s) {
  const rises = s.kind === 'rise';
  const scale = rises ? 60 : 1;
  const els = [];
  const parts = {};
  const put = (key, label, input, back = (v) => v) => {
    els.push(field(label, input));
    parts[key] = () => back(of(input));
  };
  put('minutes', t(rises ? 'recipe.hours' : 'recipe.minutes'), amount(s.minutes / scale, { min: rises ? 0.25 : 1, max: 72 * 60 / scale }), (v) => v * scale);
  if (rises) put('at_c', t('recipe.at', { unit: degreeSign() }), amount(degreesOf(s.at_c), { min: Math.ceil(degreesOf(4)), max: Math.floor(degreesOf(40)) }), (v) => round(degreesIn(v)));
  if (rises && !s.fridge_longest) {
    put('folds', t('recipe.folds'), amount(s.folds || 0, { max: 8 }), Math.round);
    put('folds_every', t('recipe.folds_every'), amount(s.folds_every || 30, { min: 10, max: 180 }));
  }
  if (s.oven_before) put('oven_before', t('recipe.oven_before'), amount(s.oven_before, { max: 180 }));
  return { els, value: () => Object.fromEntries(Object.entries(parts).map(([key, get]) => [key, get()])) };
}

// additions are the ticks of what goes in at a stage; what goes in here goes in at no
// other.
function additions(adds, added) {
  const ticks = Object.fromEntries(ADDED.map((what) => {
    const box = h('input', { type: 'checkbox' });
    box.checked = adds.includes(what);
    box.addEventListener('change', () => box.checked && added(what));
    return [what, box];
  }));
  return {
    el: h('fieldset', { class: 'ticks' }, h('legend', {}, t('recipe.goes_in')), ADDED.map((what) => h('label', { class: 'tick' }, ticks[what], t(`plan.ingredient.${what}`)))),
    value: () => ADDED.filter((what) => ticks[what].checked),
    set(what, on) {
      ticks[what].checked = on;
      if (on) added(what);
    },
  };
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
