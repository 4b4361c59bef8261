// The time at which what stands on a mat should be ready. The daemon moves the
// mat's setpoint for it and says in one line how it stands.

import { ask, h, keep, say, show } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { nextAt, told } from './units.js';
import { put, remove, vesselPath } from './api.js';

// readyBy has one place for each vessel that stands on a mat.
export function readyBy(app) {
  const list = h('div', {});
  const el = h('section', { class: 'block', hidden: true }, h('h2', {}, t('ready_by.title')), h('p', { class: 'hint' }, t('ready_by.hint')), list);
  return {
    el,
    show(kitchen, planned) {
      const onMat = kitchen.vessels.filter((v) => v.mat && v.stage !== 'asleep');
      show(el, onMat.length > 0);
      keep(list, onMat, (v) => v.id, (v) => readyAt(v, app), (one, v) => one.update(v, planned));
    },
  };
}

function readyAt(first, app) {
  let v = first;
  let planned = false; // a plan moves the mat already
  const id = `ready-${first.id}`;
  const line = h('p', { class: 'wish-line' });
  const hour = h('input', { type: 'time', required: true });
  const aim = h('button', { class: 'strong' }, t('ready_by.aim'));
  const drop = h('button', { type: 'button', onclick: cancel }, t('ready_by.cancel'));
  const form = h('form', { class: 'row', onsubmit: send }, field(t('ready_by.hour'), hour), aim, drop);
  const el = h('section', { class: 'wish', 'aria-labelledby': id }, h('h3', { id }, first.name), line, form);

  async function send(event) {
    event.preventDefault();
    const at = nextAt(hour.value);
    if (at === null || (planned && !(await agreed()))) return;
    const body = { at: new Date(at).toISOString() };
    if (await app.change(() => put(vesselPath(v.id, 'wish'), body).then(() => true))) app.announce(t('ready_by.taken', { name: v.name, at }));
  }

  async function cancel() {
    if (await app.change(() => remove(vesselPath(v.id, 'wish')).then(() => true))) app.announce(t('ready_by.dropped'));
  }

  el.update = (latest, plan) => {
    v = latest;
    planned = plan;
    const standing = Boolean(v.wish) && !v.wish.over;
    say(line, v.wish ? told(v.wish.say) : '');
    show(line, Boolean(v.wish));
    say(aim, t(standing ? 'ready_by.change' : 'ready_by.aim'));
    show(drop, standing);
  };
  return el;
}

// agreed asks before a time takes the mat from the plan that moves it.
async function agreed() {
  const form = h('form', { method: 'dialog' }, h('h2', { id: 'agreed-title' }, t('ready_by.title')), h('p', {}, t('ready_by.replaces_plan')),
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'yes' }, t('ready_by.go_on')), h('button', { value: '' }, t('common.cancel'))));
  return (await ask(h('dialog', { 'aria-labelledby': 'agreed-title' }, form))) === 'yes';
}
