// A mat's setpoint by times of day.

import { h, show } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { taste } from './taste.js';
import { clockText } from './times.js';
import { degreesIn, degreesOf, degreeSign } from './units.js';
import { put } from './api.js';

// schedule is the day's list of times and setpoints.
export function schedule(mat, app, at) {
  let rows = null; // being edited
  const list = h('ul', { class: 'steps' });
  const none = h('p', { class: 'quiet' }, t('mat.no_steps'));
  const fixed = h('p', { class: 'hint', hidden: true }, t('mat.steps_fixed'));
  const own = h('p', { class: 'hint', hidden: true }, t('mat.steps_own'));
  const file = h('button', { type: 'button', hidden: true, onclick: () => send(null) }, t('mat.steps_file'));
  const save = h('button', { type: 'button', class: 'strong', onclick: store }, t('mat.save_steps'));
  const drop = h('button', { type: 'button', onclick: () => { rows = null; drawn = ''; update(); } }, t('common.cancel'));
  const add = h('button', { type: 'button', onclick: () => { begin(); rows.push({ from: '07:00', setpoint_c: mat().setpoint_c }); render(); list.lastChild.querySelector('input').focus(); } }, t('mat.add_step'));
  let drawn = '';

  function begin() { rows ||= mat().schedule.map((s) => ({ ...s })); }

  function store() { return send([...rows].sort((a, b) => (a.from < b.from ? -1 : 1))); }

  // send sets a schedule; null is that of the configuration.
  async function send(steps) {
    if (!(await app.change(() => put(at('schedule'), { schedule: steps }).then(() => true)))) return;
    app.announce(t('common.saved'));
    if (steps) Object.assign(mat(), { schedule: steps, schedule_own: true });
    rows = null;
    drawn = '';
    update();
  }

  function line(s, i) {
    const from = h('input', { type: 'time', required: true });
    from.value = s.from;
    from.addEventListener('change', () => { begin(); rows[i].from = from.value; buttons(); });
    const warm = h('input', { type: 'number', inputmode: 'decimal', step: taste.temperature === 'f' ? 1 : 0.5, min: Math.ceil(degreesOf(mat().low_c)), max: Math.floor(degreesOf(mat().high_c)) });
    warm.value = Math.round(degreesOf(s.setpoint_c) * 10) / 10;
    warm.addEventListener('change', () => { begin(); rows[i].setpoint_c = Math.round(degreesIn(Number(warm.value)) * 100) / 100; buttons(); });
    return h('li', {}, field(t('mat.from'), from), field(t('mat.hold', { unit: degreeSign() }), warm),
      h('button', { type: 'button', class: 'turn', 'aria-label': t('mat.remove_step', { at: clockText(s.from) }), onclick: () => { begin(); rows.splice(i, 1); render(); add.focus(); } }, '×'));
  }

  function buttons() {
    show(add, !mat().schedule_fixed);
    show(save, rows !== null);
    show(drop, rows !== null);
    show(own, Boolean(mat().schedule_own));
    show(file, Boolean(mat().schedule_own) && rows === null);
  }

  function render() {
    const all = rows || mat().schedule;
    list.replaceChildren(...all.map(mat().schedule_fixed ? (s) => h('li', {}, t('mat.step_says', { from: clockText(s.from), to: s.setpoint_c })) : line));
    show(none, all.length === 0 && !mat().schedule_fixed);
    show(fixed, Boolean(mat().schedule_fixed));
    buttons();
  }

  function update() {
    const now = JSON.stringify([mat().schedule, mat().schedule_own]) + taste.temperature;
    if (rows !== null || now === drawn) return;
    drawn = now;
    render();
  }
  return { el: h('div', { class: 'plan' }, h('h3', {}, t('mat.schedule')), none, list, fixed, own, h('div', { class: 'row' }, add, save, drop, file)), update };
}
