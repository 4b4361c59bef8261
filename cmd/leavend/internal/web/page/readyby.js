// The time at which what stands on a mat should be ready. The daemon moves the
// mat's setpoint for it and says in one line how it stands.

import { ask, h, keep, say, show } from './dom.js';
import { message, t } from './text.js';
import { field } from './parts.js';
import { nextAt } from './times.js';
import { degreesOf } from './units.js';
import { put, remove, vesselPath } from './api.js';

// readyBy asks for a time and lists those that stand; planned tells whether a
// plan moves the mat already.
export function readyBy(app, planned) {
  const which = h('select', {});
  const whichField = field(t('ready_by.which'), which);
  const hour = h('input', { type: 'time', required: true });
  const list = h('div', {});
  const form = h('form', { class: 'ready-ask', onsubmit: send }, whichField, field(t('ready_by.hour'), hour), h('button', {}, t('ready_by.aim')));
  const el = h('section', { class: 'block', hidden: true }, h('h2', {}, t('ready_by.title')), h('p', { class: 'hint' }, t('ready_by.hint')), form, list);
  let onMat = [];

  async function send(event) {
    event.preventDefault();
    const at = nextAt(hour.value);
    const v = onMat.find((x) => x.id === which.value);
    if (at === null || !v || (planned() && !(await agreed()))) return;
    if (await app.change(() => put(vesselPath(v.id, 'wish'), { at: new Date(at).toISOString() }).then(() => true))) app.announce(t('ready_by.taken', { name: v.name, at }));
  }

  return {
    el,
    show(kitchen) {
      onMat = kitchen.vessels.filter((v) => v.mat && v.stage !== 'asleep');
      show(el, onMat.length > 0);
      show(whichField, onMat.length > 1);
      if (which.children.length !== onMat.length) which.replaceChildren(...onMat.map((v) => h('option', { value: v.id }, v.name)));
      keep(list, onMat.filter((v) => v.wish), (v) => v.id, (v) => standing(v, app), (one, v) => one.update(v));
    },
  };
}

// standing is one vessel's time and how it stands.
function standing(first, app) {
  const id = `ready-${first.id}`;
  const line = h('p');
  const more = h('p', { class: 'quiet' });
  const drop = h('button', { type: 'button', class: 'small', onclick: cancel }, t('ready_by.cancel'));
  const el = h('section', { class: 'ready-stands', 'aria-labelledby': id }, h('div', {}, h('h3', { id }, first.name), line, more), drop);
  async function cancel() {
    if (await app.change(() => remove(vesselPath(first.id, 'wish')).then(() => true))) app.announce(t('ready_by.dropped'));
  }
  el.update = (v) => {
    say(line, message(v.wish.say));
    say(more, comes(v.wish));
    show(drop, !v.wish.over);
  };
  return el;
}

// comes says how long a starter is on its peak, and how warm it was kept for it.
function comes(w) {
  const parts = [];
  if (w.useful_until && !w.over) parts.push(t('ready_by.useful', { at: w.expect_at, until: w.useful_until }));
  if (w.degree_hours >= 0.5) parts.push(t('ready_by.warmed', { n: Math.round(degreesOf(w.degree_hours) - degreesOf(0)) }));
  return parts.join(' ');
}

// agreed asks before a time takes the mat from the plan that moves it.
async function agreed() {
  const form = h('form', { method: 'dialog' }, h('h2', { id: 'agreed-title' }, t('ready_by.title')), h('p', {}, t('ready_by.replaces_plan')),
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'yes' }, t('ready_by.go_on')), h('button', { value: '' }, t('common.cancel'))));
  return (await ask(h('dialog', { 'aria-labelledby': 'agreed-title' }, form))) === 'yes';
}
