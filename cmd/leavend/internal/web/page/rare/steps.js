// A plan's steps: as a stretch of time, and line by line.

import { h } from '../dom.js';
import { language, message, stage, t } from '../text.js';
import { taste } from '../taste.js';
import { clock, day, dayKey } from '../times.js';

// spans says from when to when a plan goes, and whether the dough is chilled.
export const spans = ({ steps }) => t(steps.some((s) => s.fridge) ? 'plan.spans_cold' : 'plan.spans', { from: steps.find((s) => s.kind === 'do').at, to: steps.at(-1).at });

// strip is the plan as a stretch of time, with what its colours mean.
export function strip({ steps }) {
  const lasting = steps.filter((s) => s.kind !== 'top');
  const from = Date.parse(lasting[0].at);
  const whole = Math.max(1, Date.parse(lasting.at(-1).at) - from);
  const kinds = new Set();
  const bar = h('div', { class: 'bread-strip' });
  lasting.slice(0, -1).forEach((s, i) => {
    const [a, b, c] = [Date.parse(s.at), Date.parse(s.until), Date.parse(lasting[i + 1].at)];
    for (const [kind, start, end] of [['hands', a, Math.min(b, c)], [s.fridge ? 'cold' : s.mat ? 'mat' : 'room', Math.min(b, c), c]]) {
      if (end <= start) continue;
      kinds.add(kind);
      const part = h('span', { 'data-kind': kind });
      part.style.width = `${((end - start) / whole * 100).toFixed(2)}%`;
      bar.append(part);
    }
  });
  return h('div', { 'aria-hidden': 'true' }, bar, h('p', { class: 'strip-key' }, ['hands', 'mat', 'room', 'cold'].filter((k) => kinds.has(k)).map((k) => h('span', { 'data-kind': k }, t(`plan.kind.${k}`)))));
}

// lines is the plan line by line; only the next step can be noted as done.
export function lines(plan, done) {
  const next = plan.steps.find((s) => s.kind === 'do' && !s.done);
  let last = '';
  return h('ol', { class: 'bread-lines' }, plan.steps.flatMap((s) => {
    const key = dayKey(s.at);
    const head = key !== last && h('li', { class: 'bread-day' }, h('strong', {}, day(s.at)));
    last = key;
    return [head, h('li', { 'data-kind': s.kind, 'data-done': s.done ? 'true' : null },
      h('time', { class: 'bread-clock', datetime: s.at }, clock(s.at)),
      h('div', {}, h('p', {}, message(s.say)), leeway(s),
        done && s === next && h('button', { type: 'button', class: 'small strong', 'aria-label': t('plan.done_label', { step: stage(s.name) }), onclick: () => done(s) }, t('plan.done_button'))))].filter(Boolean);
  }));
}

// leeway says from when to when a step may begin, or that it is done.
function leeway(s) {
  if (s.done) return h('p', { class: 'hint' }, t('plan.done'));
  return s.earliest !== s.latest && h('p', { class: 'hint' }, t(s.kind === 'top' || s.kind === 'peak' ? 'plan.window.peak' : 'plan.window.step', { low: s.earliest, high: s.latest }));
}

// said is what may go wrong and why the plan is as it is.
export function said(plan) {
  const list = (all) => h('ul', {}, all.map((r) => h('li', {}, message(r.say))));
  return h('details', {}, h('summary', {}, t('plan.risks')), list(plan.risks), plan.why.length > 0 && [h('p', {}, h('strong', {}, t('plan.why'))), list(plan.why)]);
}

// calendar is the address of a plan as a calendar; the chosen one's without an id.
export const calendar = (id) => `api/plan/calendar?${new URLSearchParams({ id, units: taste.temperature === 'f' ? 'us' : 'metric', clock: taste.clock, language: language.code })}`;
