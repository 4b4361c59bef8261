// What a curve's screen says in words: what the picture shows, how good the
// forecasts were, and which readings were not believed.

import { h } from './dom.js';
import { message, t } from './text.js';
import { table } from './parts.js';
import { clock, moment } from './times.js';
import { degrees, length, plain, sentence } from './units.js';

// summarise says in words what the picture shows.
export function summarise(v, d) {
  const known = d.ratio.filter((x) => x !== null);
  const warm = d.temp_c.filter((x) => x !== null);
  const on = d.mat_on.filter((x) => x !== null);
  const stage = message(v.says.stage).toLowerCase();
  const parts = [v.ratio ? t(`curve.says_now_ratio.${v.kind}`, { name: v.name, stage, ratio: v.ratio.value }) : t('curve.says_now', { name: v.name, stage })];
  if (v.forecast && v.says.at) parts.push(t(`curve.says_forecast.${v.kind}`, { at: v.says.at, ...v.says.range.args }));
  else if (v.top) parts.push(t(`curve.says_peak.${v.kind}`, { at: v.top.top_at, ratio: v.top.ratio }));
  if (!known.length && !warm.length) parts.push(t('curve.nothing_yet'));
  else if (v.stage === 'settling' && known.length < 30) parts.push(t('curve.just_fed'));
  if (known.length) parts.push(t('curve.says_range', { from: Date.parse(d.from), low: Math.min(...known), high: Math.max(...known) }));
  if (warm.length) parts.push(t('curve.says_temperature', { low: Math.min(...warm), high: Math.max(...warm) }));
  if (on.length && v.mat) parts.push(t('curve.says_mat', { percent: Math.round(100 * on.reduce((a, b) => a + b, 0) / on.length) }));
  const feeds = d.marks.filter((m) => m.kind === 'fed').length;
  if (feeds) parts.push(t('curve.says_feeds', { n: feeds }));
  for (const m of d.marks) if (m.kind === 'starter') parts.push(t('starter.says', { at: m.at }));
  return parts.join(' ');
}

// refusedList shows runs of the same trouble as one: a jar that was lifted for
// two minutes is one thing and not twenty.
export function refusedList(list) {
  if (!list.length) return [];
  return [h('details', {}, h('summary', {}, t('outliers.title')), h('ul', { class: 'plain-list' }, runs(list).slice(0, 12).map((run) => {
    const [last, first] = [run[0], run.at(-1)];
    const what = run.length > 1 ? t(`outliers.many.${last.what}`, { n: run.length }) : t(`outliers.one.${last.what}`, { value: last.value === null ? null : measured(last) });
    const when = clock(first.at) === clock(last.at) ? moment(last.at) : t('time.from_to', { from: first.at, to: last.at });
    return h('li', {}, h('p', {}, h('strong', {}, what), ' ', h('span', { class: 'age' }, when)), h('p', {}, message(last.why_say, sentence(last.why))));
  })))];
}

// measured writes a refused value in the baker's units, where the unit is known.
const measured = ({ value, unit }) => (unit === 'mm' ? length(value) : unit === '°C' ? degrees(value) : `${plain(value, 1)} ${unit}`);

const RUN = 600_000; // ms between two of one run

function runs(list) {
  const all = [];
  for (const r of list) {
    const run = all.at(-1);
    if (run && run[0].what === r.what && run[0].why === r.why && Date.parse(run.at(-1).at) - Date.parse(r.at) < RUN) run.push(r);
    else all.push([r]);
  }
  return all;
}

// recordOf scores what was forecast: how far off, and how often the top fell
// between the stated times.
export function recordOf(rows) {
  const head = h('h2', {}, t('record.title'));
  if (!rows.length) return [head, h('p', { class: 'quiet' }, t('record.none'))];
  const off = rows.map((r) => (Date.parse(r.said_at) - Date.parse(r.top_at)) / 60000);
  const sorted = off.map(Math.abs).sort((a, b) => a - b);
  const mid = sorted[Math.floor(sorted.length / 2)];
  const inside = rows.filter((r) => r.low_at <= r.top_at && r.top_at <= r.high_at).length;
  const ahead = rows.reduce((s, r) => s + r.ahead_min, 0) / rows.length;
  return [head, h('p', {}, t('record.says', { n: rows.length, ahead: ahead * 60, off: mid * 60, inside })),
    h('details', {}, h('summary', {}, t('record.all')), table(t('record.title'), [t('column.feed'), t('column.said'), t('column.came'), t('column.off')],
      rows.map((r, i) => [moment(r.feed_at), clock(r.said_at), clock(r.top_at), offBy(Math.round(off[i]))])))];
}

const offBy = (minutes) => (minutes === 0 ? t('record.exact') : t(minutes > 0 ? 'record.late' : 'record.early', { n: Math.abs(minutes) }));
