// The hour at which what stands on a mat shall be ready. The daemon steers
// the mat to it and says in one line how it stands.

import { h, keep, say, show } from '../dom.js';
import { t } from '../text.js';
import { field } from '../parts.js';
import { clock, nextAt, told } from '../units.js';
import { put, remove, vesselPath } from '../api.js';

// wishes is one place for each vessel that stands on a mat.
export function wishes(app) {
  const list = h('div', { class: 'wishes' });
  const hint = h('p', { class: 'hint' }, t('ready_by.hint'));
  const onMat = (kitchen) => kitchen.vessels.filter((v) => v.mat && v.stage !== 'asleep');
  return {
    el: h('div', {}, list, hint),
    show(kitchen) {
      show(hint, onMat(kitchen).length > 0);
      keep(list, onMat(kitchen), (v) => v.id, (v) => wish(v, app), (el, v) => el.update(v));
    },
  };
}

function wish(first, app) {
  let v = first;
  const id = `wish-${first.id}`;
  const line = h('p', { class: 'wish-line' });
  const hour = h('input', { type: 'time', required: true });
  const steer = h('button', { class: 'strong' }, t('ready_by.aim'));
  const drop = h('button', { type: 'button', onclick: forget }, t('ready_by.cancel'));
  const form = h('form', { class: 'row', onsubmit: send }, field(t('ready_by.hour'), hour), steer, drop);
  const el = h('section', { class: 'wish', 'aria-labelledby': id }, h('h3', { id }, t(`ready_by.title.${first.kind}`, { name: first.name })), line, form);

  async function send(event) {
    event.preventDefault();
    const at = nextAt(hour.value);
    if (at === null) return;
    const body = { at: new Date(at).toISOString() };
    if (await app.change(() => put(vesselPath(v.id, 'wish'), body).then(() => true))) app.announce(t('ready_by.taken', { name: v.name, at }));
  }

  async function forget() {
    if (await app.change(() => remove(vesselPath(v.id, 'wish')).then(() => true))) app.announce(t('ready_by.dropped'));
  }

  el.update = (now) => {
    v = now;
    const standing = Boolean(v.wish) && !v.wish.over;
    say(line, v.wish ? told(v.wish.say) : '');
    show(line, Boolean(v.wish));
    say(steer, standing ? t('ready_by.change') : t('ready_by.aim'));
    show(drop, standing);
  };
  return el;
}
