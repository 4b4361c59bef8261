// The mat: its setpoint, by times of day, whether it was switched off for
// safety, and the cautions before it heats for the first time.

import { h, keep, say, set, show } from '../dom.js';
import { message, t } from '../text.js';
import { sentence } from '../units.js';
import { post, put } from '../api.js';
import { gauge } from '../gauge.js';
import { setpoint } from '../setpoint.js';
import { schedule } from '../schedule.js';

export function open(root, app) {
  const list = h('div', { class: 'mats' });
  const none = h('p', { class: 'quiet', hidden: true }, t('mat.none'));
  const title = h('h1', {}, t('mat.title'));
  root.append(h('div', { class: 'sheet wide' }, title, none, list, h('p', { class: 'small-print' }, t('mat.not_safety'))));
  return {
    show(kitchen) {
      show(none, kitchen.mats.length === 0);
      set(title, 'class', kitchen.mats.length === 1 ? 'unseen' : null); // a single mat has its own name above
      keep(list, kitchen.mats, (m) => m.id, (m) => mat(m, app), (el, m) => el.update(m));
    },
    close() {},
  };
}

function mat(first, app) {
  const at = (rest) => `mats/${encodeURIComponent(first.id)}/${rest}`;
  let m = first;
  const name = h('h2', { id: `mat-${first.id}` }, first.name);
  const state = h('p', { class: 'mat-state' });
  const reason = h('p');
  const faults = h('div', { class: 'faults' });
  const dial = setpoint(() => m, app, at);
  const scale = gauge();
  const share = h('p', { class: 'quiet' });
  const power = h('button', { type: 'button', onclick: toggle });
  const plan = schedule(() => m, app, at);
  const el = h('section', { class: 'mat-place', 'aria-labelledby': `mat-${first.id}` },
    h('div', { class: 'pair' }, h('div', {}, h('header', {}, h('div', {}, name, state, reason), power), faults, dial.el, scale.el, share), plan.el));

  async function toggle() {
    const on = !m.allowed;
    const accepted = on && !m.cautions_accepted;
    if (accepted && !(await (await app.rare('cautions')).accepted(m))) return;
    const body = accepted ? { allowed: on, cautions_accepted: true } : { allowed: on };
    if (await app.change(() => put(at('allowed'), body).then(() => true))) app.announce(on ? t('mat.now_on', { name: m.name }) : t('mat.now_off', { name: m.name }));
  }

  el.update = (now) => {
    m = now;
    say(name, m.name);
    const stands = t(`mat.state.${m.faults.length ? 'fault' : !m.allowed ? 'forbidden' : m.on ? 'on' : 'off'}`);
    say(state, m.since && !m.faults.length ? t('mat.state_since', { state: stands, at: m.since }) : stands);
    set(state, 'data-state', m.faults.length ? 'fault' : m.on ? 'on' : 'off');
    say(reason, m.faults.length || m.reason_say?.key === 'mat.reason.below_setpoint' ? '' : sentence(message(m.reason_say, m.reason))); // that it heats is said already
    say(power, t(!m.allowed ? 'mat.switch_on' : m.on ? 'mat.switch_off' : 'mat.keep_off'));
    set(power, 'class', m.allowed ? null : 'strong');
    say(share, t('mat.share', { share: m.on_share_day }));
    show(share, m.on_share_day >= 0.005 && m.allowed);
    keep(faults, m.faults, (f) => f.id, (f) => fault(f, app), (box, f) => box.update(f));
    scale.update(m);
    dial.update();
    plan.update();
  };
  return el;
}

function fault(first, app) {
  const text = h('p', { class: 'fault-text' });
  const todo = h('p');
  const why = h('p', { class: 'fault-why' });
  const since = h('p', { class: 'quiet' });
  const button = h('button', { type: 'button', onclick: acknowledge }, t('mat.acknowledge'));
  const el = h('div', { class: 'fault', role: 'group', 'aria-label': t('mat.fault_label') }, text, todo, why, since, button);
  async function acknowledge() {
    const done = await app.change(() => post(`faults/${encodeURIComponent(first.id)}/acknowledgement`).then(() => true));
    if (done) app.announce(t('mat.acknowledged'));
  }
  el.update = (f) => {
    say(text, message(f.text_say, sentence(f.text)));
    say(todo, message(f.do_say, sentence(f.do)));
    say(since, t('mat.since', { at: f.since }));
    say(why, f.holds ? message(f.why_say, sentence(f.why)) || t('mat.still_holds') : '');
    show(why, f.holds);
    button.disabled = f.holds;
  };
  return el;
}
