// The jars and bowls that are watched, with other names or no longer: they stand in the
// configuration, so that leavend starts again with a change. And the hours of the
// baker's day.

import { ask, h, keep, say, show } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { clockText } from './times.js';
import { put, read, remove, vesselPath } from './api.js';

const DAYS = ['mon', 'tue', 'wed', 'thu', 'fri', 'sat', 'sun'];

// vesselList shows what is watched; allowed tells whether it can be changed here.
export function vesselList(app, allowed) {
  const list = h('ul', { class: 'plain-list' });
  return {
    el: list,
    show: (kitchen) => keep(list, kitchen.vessels, (v) => v.id, (v) => line(v, app, allowed), (el, v) => el.update(v)),
  };
}

function line(first, app, allowed) {
  let v = first;
  const name = h('strong');
  const rename = h('button', { type: 'button', class: 'small plain', onclick: async () => renamed(v, app) }, t('household.rename'));
  const drop = h('button', { type: 'button', class: 'small plain', onclick: async () => removed(v, app) }, t('household.remove'));
  const deep = h('button', { type: 'button', class: 'small plain', onclick: async () => (await app.rare('depth')).measureDepth(v, app) }, t('household.measure'));
  const buttons = h('div', { class: 'links', hidden: true }, rename, deep, drop);
  const el = h('li', { class: 'move' }, name, buttons);
  allowed.then((yes) => show(buttons, yes));
  el.update = (now) => {
    v = now;
    say(name, v.name);
    rename.setAttribute('aria-label', t('household.rename_of', { name: v.name }));
    deep.setAttribute('aria-label', t('household.measure_of', { name: v.name }));
    drop.setAttribute('aria-label', t('household.remove_of', { name: v.name }));
  };
  return el;
}

async function renamed(v, app) {
  const name = h('input', { type: 'text', required: true, maxlength: 60, autocomplete: 'off' });
  name.value = v.name;
  if ((await question(t('household.rename_of', { name: v.name }), t('common.save'), field(t('household.new_name'), name), h('p', { class: 'hint' }, t('household.keeps'), ' ', t('reach.restarts')))) !== 'yes') return;
  if (await app.change(() => put(vesselPath(v.id, 'name'), { name: name.value.trim() }).then(() => true))) app.announce(t('reach.done'));
}

async function removed(v, app) {
  if ((await question(t('household.remove_ask', { name: v.name }), t('household.remove'), h('p', {}, t('household.keeps'), ' ', t('reach.restarts')))) !== 'yes') return;
  if (await app.change(() => remove(`vessels/${encodeURIComponent(v.id)}`).then(() => true))) app.announce(t('reach.done'));
}

// question is a dialog with one thing to agree to.
const question = (title, yes, ...body) => ask(h('dialog', { 'aria-label': title }, h('form', { method: 'dialog' }, h('h2', {}, title), ...body,
  h('div', { class: 'row' }, h('button', { class: 'strong', value: 'yes' }, yes), h('button', { value: '', formnovalidate: true }, t('common.cancel'))))));

// hoursPart is when no step of a plan is set.
export function hoursPart(app) {
  const el = h('section', { class: 'block', hidden: true });
  const draw = () => read('hours').then((got) => {
    el.replaceChildren(h('h2', {}, t('hours.title')), h('p', {}, t('hours.lead')), hoursForm(got, app, draw));
    show(el, true);
  }, () => {});
  draw();
  return el;
}

const time = (value) => {
  const el = h('input', { type: 'time', required: true });
  el.value = value;
  return el;
};

function hoursForm(got, app, again) {
  const from = time(got.asleep_from);
  const to = time(got.asleep_to);
  const away = h('ul', { class: 'absences' });
  const none = h('p', { class: 'quiet' }, t('hours.none'));
  const count = () => show(none, away.children.length === 0);
  const add = (a) => {
    away.append(absence(a, count));
    count();
  };
  got.away.forEach(add);
  count();
  const change = async (act) => {
    if (!(await app.change(() => act().then(() => true)))) return;
    app.announce(t('common.saved'));
    again();
  };
  const save = (e) => {
    e.preventDefault();
    change(() => put('hours', { asleep_from: from.value, asleep_to: to.value, away: [...away.children].map((li) => li.hours()) }));
  };
  return h('form', { onsubmit: save },
    h('div', { class: 'two' }, field(t('hours.asleep_from'), from), field(t('hours.asleep_to'), to)),
    h('h3', {}, t('hours.away')), none, away,
    got.own && h('p', { class: 'hint' }, t('hours.own')),
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('common.save')), got.own && h('button', { type: 'button', onclick: () => change(() => remove('hours')) }, t('hours.file')), h('button', { type: 'button', onclick: () => { add({ from: '08:00', to: '17:00', days: DAYS.slice(0, 5) }); away.lastChild.querySelector('input').focus(); } }, t('hours.add'))));
}

// absence is one time of the week; without a day it is of every day.
function absence(a, changed) {
  const from = time(a.from);
  const to = time(a.to);
  const days = DAYS.map((d) => {
    const full = t(`plan.weekday.${d}`);
    const on = a.days.length === 0 || a.days.includes(d);
    return h('button', { type: 'button', 'data-day': d, 'aria-pressed': String(on), onclick: (e) => toggle(e.currentTarget) }, full);
  });
  const isOn = (b) => b.getAttribute('aria-pressed') === 'true';
  function toggle(b) { // one day stays
    if (!isOn(b) || days.filter(isOn).length > 1) b.setAttribute('aria-pressed', String(!isOn(b)));
  }
  const el = h('li', { class: 'absence' }, h('div', { class: 'two' }, field(t('hours.from'), from), field(t('hours.to'), to)),
    h('div', { class: 'choices', role: 'group', 'aria-label': t('hours.days') }, days),
    h('button', { type: 'button', class: 'small plain', 'aria-label': t('hours.remove_of', { from: clockText(a.from) }), onclick: () => { el.remove(); changed(); } }, t('common.remove')));
  el.hours = () => {
    const on = days.filter(isOn).map((b) => b.dataset.day);
    return { from: from.value, to: to.value, days: on.length === DAYS.length ? [] : on };
  };
  return el;
}
