// The mat: how warm it shall be, at which hours, whether its guard has
// switched it off, and the cautions before it heats for the first time.

import { ask, h, keep, say, set, show } from '../dom.js';
import { t } from '../text.js';
import { field } from '../parts.js';
import { ago, clockText, degrees, degreesIn, degreesOf, degreeSign, moment, percent, sentence, taste, told } from '../units.js';
import { post, put } from '../api.js';
import { wishes } from './wish.js';
import { matEnergy } from '../energy.js';

export function open(root, app) {
  const list = h('div', { class: 'mats' });
  const none = h('p', { class: 'quiet', hidden: true }, t('mat.none'));
  const hours = wishes(app);
  root.append(h('div', { class: 'sheet' }, h('h1', {}, t('mat.title')), none, list, hours.el, h('p', { class: 'small-print' }, t('mat.not_safety'))));
  return {
    show(kitchen) {
      show(none, kitchen.mats.length === 0);
      keep(list, kitchen.mats, (m) => m.id, (m) => mat(m, app), (el, m) => el.update(m));
      hours.show(kitchen);
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
  const energy = matEnergy();
  const power = h('button', { type: 'button', onclick: toggle });
  const plan = schedule(() => m, app, at);
  const el = h('section', { class: 'mat-place', 'aria-labelledby': `mat-${first.id}` },
    h('header', {}, h('div', {}, name, state), power), reason, faults, scale.el, dial.el, share, energy.els, plan.el);

  async function toggle() {
    const on = !m.allowed;
    const accepted = on && !m.cautions_accepted;
    if (accepted && !(await cautions(m))) return;
    const body = accepted ? { allowed: on, cautions_accepted: true } : { allowed: on };
    if (await app.change(() => put(at('allowed'), body).then(() => true))) app.announce(on ? t('mat.now_on', { name: m.name }) : t('mat.now_off', { name: m.name }));
  }

  el.update = (now) => {
    m = now;
    say(name, m.name);
    say(state, m.faults.length ? t('mat.state.fault') : !m.allowed ? t('mat.state.forbidden') : m.on ? t('mat.state.on') : t('mat.state.off'));
    set(state, 'data-state', m.faults.length ? 'fault' : m.on ? 'on' : 'off');
    say(reason, `${sentence(m.reason_say ? told(m.reason_say) : m.reason)}${m.since ? ` ${t('mat.since', { at: m.since })}` : ''}`);
    say(power, m.allowed ? t('mat.switch_off') : t('mat.switch_on'));
    set(power, 'class', m.allowed ? null : 'strong');
    say(share, m.on_share_day === null ? '' : t('mat.share', { share: m.on_share_day }));
    show(share, m.on_share_day !== null && m.allowed);
    keep(faults, m.faults, (f) => f.id, (f) => fault(f, app), (box, f) => box.update(f));
    energy.update(m);
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
  const button = h('button', { type: 'button', onclick: acknowledge }, t('mat.acknowledge'));
  const el = h('div', { class: 'fault', role: 'group', 'aria-label': t('mat.fault_label') }, text, todo, why, button);
  async function acknowledge() {
    const done = await app.change(() => post(`faults/${encodeURIComponent(first.id)}/acknowledgement`).then(() => true));
    if (done) app.announce(t('mat.acknowledged'));
  }
  el.update = (f) => {
    say(text, sentence(f.text));
    say(todo, [sentence(ago(f.since)), sentence(f.do)].filter(Boolean).join(' '));
    say(why, f.holds ? sentence(f.why_say ? told(f.why_say) : f.why) || t('mat.still_holds') : '');
    show(why, f.holds);
    button.disabled = f.holds;
  };
  return el;
}

// gauge shows room, vessel, mat, setpoint and cutoff on one line of warmth.
function gauge() {
  const marks = {};
  const track = h('div', { class: 'track', 'aria-hidden': 'true' }, h('div', { class: 'allowed' }));
  const says = h('dl', { class: 'gauge-facts' });
  const rows = {};
  for (const k of ['room', 'setpoint', 'vessel', 'mat', 'cutoff']) {
    marks[k] = h('div', { class: `mark ${k}` });
    track.append(marks[k]);
    rows[k] = [h('dd'), h('span', { class: 'age' })];
    says.append(h('div', {}, h('dt', { class: `key ${k}` }, t(`mat.gauge.${k}`)), h('dd', {}, rows[k][0].firstChild || (rows[k][0] = h('span')), ' ', rows[k][1])));
  }
  return {
    el: h('div', { class: 'gauge' }, track, says),
    update(m) {
      const values = { room: m.room_temp?.value, vessel: m.temp?.value, setpoint: m.steering_c ?? m.setpoint_c, mat: m.mat_temp?.value, cutoff: m.cutoff_c };
      const ages = { room: m.room_temp?.at, vessel: m.temp?.at, mat: m.mat_temp?.at };
      const all = Object.values(values).filter((x) => typeof x === 'number');
      const low = Math.min(14, ...all) - 1;
      const high = Math.max(36, ...all) + 1;
      const share = (c) => `${(100 * (c - low) / (high - low)).toFixed(2)}%`;
      track.firstChild.style.left = share(m.low_c);
      track.firstChild.style.width = `${(100 * (m.high_c - m.low_c) / (high - low)).toFixed(2)}%`;
      for (const [k, c] of Object.entries(values)) {
        const known = typeof c === 'number';
        show(marks[k], known);
        show(rows[k][0].closest('div'), known);
        if (!known) continue;
        marks[k].style.left = share(c);
        say(rows[k][0], degrees(c));
        say(rows[k][1], ages[k] ? ago(ages[k]) : '');
      }
    },
  };
}

// setpoint changes in half degrees and takes effect when it is confirmed.
function setpoint(mat, app, at) {
  let wish = null; // in the baker's own unit, while it differs
  const value = h('output', { class: 'dial-value' });
  const step = () => (taste.units === 'us' ? 1 : 0.5);
  const limits = () => [Math.ceil(degreesOf(mat().low_c) / step()) * step(), Math.floor(degreesOf(mat().high_c) / step()) * step()];
  const present = () => Math.round(degreesOf(mat().setpoint_c) / step()) * step();
  const turn = (by) => {
    const [low, high] = limits();
    wish = Math.min(high, Math.max(low, (wish ?? present()) + by * step()));
    update();
  };
  const less = h('button', { type: 'button', class: 'turn', 'aria-label': t('mat.cooler'), onclick: () => turn(-1) }, '−');
  const more = h('button', { type: 'button', class: 'turn', 'aria-label': t('mat.warmer'), onclick: () => turn(1) }, '+');
  const confirm = h('button', { type: 'button', class: 'strong', onclick: save }, '');
  const hint = h('p', { class: 'hint' });

  async function save() {
    const c = Math.round(degreesIn(wish) * 100) / 100;
    const done = await app.change(() => put(at('setpoint'), { setpoint_c: c }).then(() => true));
    if (!done) return;
    app.announce(t('mat.set_to', { to: c }));
    mat().setpoint_c = c;
    wish = null;
    update();
  }

  function update() {
    const m = mat();
    const shown = wish ?? degreesOf(m.setpoint_c);
    const changed = wish !== null && Math.abs(wish - degreesOf(m.setpoint_c)) > 0.05;
    say(value, `${shown.toFixed(1)} ${degreeSign()}`);
    say(confirm, t('mat.set', { to: value.textContent }));
    show(confirm, changed);
    const [low, high] = limits();
    less.disabled = shown <= low;
    more.disabled = shown >= high;
    say(hint, t('mat.limits', { low: degrees(m.low_c, 0), high: degrees(m.high_c, 0), hysteresis: `${(m.hysteresis_c * (taste.units === 'us' ? 1.8 : 1)).toFixed(1)}°` }));
  }
  return { el: h('div', { class: 'dial', role: 'group', 'aria-label': t('mat.gauge.setpoint') }, less, value, more, confirm, hint), update };
}

// schedule is the day's list of hours and warmths.
function schedule(mat, app, at) {
  let rows = null; // being edited
  const list = h('ul', { class: 'steps' });
  const none = h('p', { class: 'quiet' }, t('mat.no_steps'));
  const fixed = h('p', { class: 'hint', hidden: true }, t('mat.steps_fixed'));
  const save = h('button', { type: 'button', class: 'strong', onclick: store }, t('mat.save_steps'));
  const drop = h('button', { type: 'button', onclick: () => { rows = null; drawn = ''; update(); } }, t('common.cancel'));
  const add = h('button', { type: 'button', onclick: () => { begin(); rows.push({ from: '07:00', setpoint_c: mat().setpoint_c }); render(); list.lastChild.querySelector('input').focus(); } }, t('mat.add_step'));
  let drawn = '';

  function begin() { rows ||= mat().schedule.map((s) => ({ ...s })); }

  async function store() {
    const body = { schedule: [...rows].sort((a, b) => (a.from < b.from ? -1 : 1)) };
    if (!(await app.change(() => put(at('schedule'), body).then(() => true)))) return;
    app.announce(t('common.saved'));
    mat().schedule = body.schedule;
    rows = null;
    drawn = '';
    update();
  }

  function line(s, i) {
    const from = h('input', { type: 'time', required: true });
    from.value = s.from;
    from.addEventListener('change', () => { begin(); rows[i].from = from.value; buttons(); });
    const warm = h('input', { type: 'number', inputmode: 'decimal', step: taste.units === 'us' ? 1 : 0.5, min: Math.ceil(degreesOf(mat().low_c)), max: Math.floor(degreesOf(mat().high_c)) });
    warm.value = Math.round(degreesOf(s.setpoint_c) * 10) / 10;
    warm.addEventListener('change', () => { begin(); rows[i].setpoint_c = Math.round(degreesIn(Number(warm.value)) * 100) / 100; buttons(); });
    return h('li', {}, field(t('mat.from'), from), field(t('mat.hold', { unit: degreeSign() }), warm),
      h('button', { type: 'button', class: 'turn', 'aria-label': t('mat.remove_step', { at: clockText(s.from) }), onclick: () => { begin(); rows.splice(i, 1); render(); add.focus(); } }, '×'));
  }

  function buttons() {
    show(add, !mat().schedule_fixed);
    show(save, rows !== null);
    show(drop, rows !== null);
  }

  function render() {
    const all = rows || mat().schedule;
    list.replaceChildren(...all.map(mat().schedule_fixed ? (s) => h('li', {}, t('mat.step_says', { from: clockText(s.from), to: s.setpoint_c })) : line));
    show(none, all.length === 0 && !mat().schedule_fixed);
    show(fixed, Boolean(mat().schedule_fixed));
    buttons();
  }

  function update() {
    const now = JSON.stringify(mat().schedule) + taste.units;
    if (rows !== null || now === drawn) return;
    drawn = now;
    render();
  }
  return { el: h('div', { class: 'plan' }, h('h3', {}, t('mat.schedule')), none, list, fixed, h('div', { class: 'row' }, add, save, drop)), update };
}

// cautions are read and accepted once, before a mat heats for the first time.
async function cautions(m) {
  const box = h('input', { type: 'checkbox', required: true });
  const form = h('form', { method: 'dialog' },
    h('h2', { id: 'cautions-title' }, t('mat.cautions_title')), h('p', {}, t('mat.cautions_text')),
    h('ul', { class: 'cautions' }, (m.cautions || []).map((c) => h('li', {}, c))),
    h('label', { class: 'tick' }, box, t('mat.cautions_accept')),
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'accept' }, t('mat.switch_on')), h('button', { value: '', formnovalidate: true }, t('common.cancel'))));
  return (await ask(h('dialog', { 'aria-labelledby': 'cautions-title' }, form))) === 'accept' && box.checked;
}

