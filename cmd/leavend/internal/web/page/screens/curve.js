// The rise curve from an hour to years, with the warmth, the mat, the feeds,
// the call and the forecast.

import { h, say, set, show } from '../dom.js';
import { message, t } from '../text.js';
import { choices, download, nothingYet, pick, table, vesselTabs } from '../parts.js';
import { ageS, clock, day, degrees, length, moment, now, plain, sentence, times } from '../units.js';
import { read, vesselPath } from '../api.js';
import { savePicture } from '../chart.js';
import { curveChart } from '../curvechart.js';

const HOUR = 3600_000;
const SPANS = { hour: HOUR, six: 6 * HOUR, day: 24 * HOUR, week: 168 * HOUR, month: 31 * 24 * HOUR, year: 366 * 24 * HOUR, all: 10 * 366 * 24 * HOUR };

export function open(root, app, wanted) {
  let view = null;
  return {
    show(kitchen) {
      const v = pick(kitchen, wanted);
      if (!v) {
        if (!root.firstChild) root.append(h('h1', { class: 'unseen' }, t('screen.curve')), nothingYet());
        return;
      }
      if (!view) {
        root.replaceChildren();
        view = build(root, app, kitchen, v);
      }
      view.show(v);
    },
    close() { view?.close(); },
  };
}

function build(root, app, kitchen, first) {
  let vessel = first;
  const usual = (v) => (v.feed && ageS(v.feed.at) < 40 * 3600 ? 'feed' : 'day');
  let zoom = usual(first);
  let picked = false; // the reader chose the time shown
  let seen = now();
  let from = 0;
  let to = 0; // both ms
  let follows = true; // the right edge is now
  let data = null;
  let asked = 0;

  const title = h('h1', {}, t(`curve.of.${first.kind}`, { name: first.name }));
  const summary = h('p', { class: 'summary', id: 'curve-summary' });
  const zooms = choices(t('curve.span_label'), [...(first.feed ? [['feed', t('curve.span.feed')]] : []), ...Object.keys(SPANS).map((k) => [k, t(`curve.span.${k}`)])], zoom, (z) => { zoom = z; picked = true; follows = true; frame(); fetchNow(); });
  const box = h('div', { class: 'chart', role: 'img', tabindex: '0', 'aria-label': t(`curve.of.${first.kind}`, { name: first.name }), 'aria-describedby': 'curve-summary curve-keys', onkeydown: keys });
  const keysHint = h('p', { class: 'unseen', id: 'curve-keys' }, t('curve.keys'));
  const readout = h('p', { class: 'readout', role: 'status' });
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const numbers = h('details', { ontoggle: () => tabulate() }, h('summary', {}, t('curve.as_table')), h('div'));
  const refused = h('section', { class: 'block' });
  const record = h('section', { class: 'block' });
  const key = legend();
  const keyOf = (k) => key.querySelector(`.${k}`);
  show(keyOf('starter'), false);
  const chart = curveChart(box, { vessel: () => vessel, picked: zoomTo, pointed });

  root.append(h('div', { class: 'sheet wide' },
    title, vesselTabs('curve', kitchen.vessels, first.id), zooms,
    h('div', { class: 'chart-frame' }, box),
    keysHint, readout, fails, key, summary,
    h('div', { class: 'row' },
      h('button', { type: 'button', onclick: () => move(-0.5) }, t('curve.earlier')),
      h('button', { type: 'button', onclick: () => move(0.5) }, t('curve.later')),
      h('button', { type: 'button', onclick: () => chart.chart && savePicture(chart.chart, `${t(`curve.of.${vessel.kind}`, { name: vessel.name })}, ${day(now())}`, vessel.id) }, t('curve.save_picture')),
      h('button', { type: 'button', onclick: save }, t('curve.download'))),
    numbers, h('div', { class: 'pair' }, record, refused)));

  function frame() {
    const n = now();
    const coming = vessel.forecast ? Date.parse(vessel.forecast.high_at) + 0.2 * HOUR : n;
    if (zoom === 'feed' && vessel.feed) {
      from = Date.parse(vessel.feed.at) - 0.25 * HOUR;
      to = Math.max(n, coming, Date.parse(vessel.feed.at) + HOUR) + 0.1 * HOUR;
    } else {
      const width = SPANS[zoom] || SPANS.day;
      from = n - width;
      to = Math.max(n, Math.min(coming, n + width * 0.4));
    }
  }

  function move(share) {
    const by = (to - from) * share;
    from += by;
    to += by;
    follows = false;
    zooms.choose('');
    fetchNow();
  }

  function zoomTo(a, b) {
    if (b - a < 60_000) return;
    from = a;
    to = b;
    follows = false;
    zooms.choose('');
    fetchNow();
  }

  async function fetchNow() {
    asked = Date.now();
    const mine = asked;
    const max = Math.max(200, Math.min(2000, Math.round(box.clientWidth * 1.5)));
    try {
      const got = await read(vesselPath(vessel.id, `window?from=${iso(from)}&to=${iso(Math.max(from + 1000, to))}&max=${max}`));
      if (mine !== asked) return;
      data = got;
      say(fails, '');
      if (zoom === 'all' && follows && narrowed()) {
        fetchNow();
        return;
      }
      await chart.draw(data, from / 1000, to / 1000);
      say(summary, summarise(vessel, data));
      show(keyOf('starter'), data.marks.some((m) => m.kind === 'starter'));
      set(box, 'data-points', data.at.length);
      tabulate();
    } catch (err) {
      say(fails, err.message);
    }
  }

  // save hands over what is shown.
  function save() {
    if (!data) return;
    download(`${vessel.id}-curve.csv`, ['time', 'height_mm', 'rise_ratio', 'temperature_c', 'mat_on'],
      data.at.map((at, i) => [new Date(at * 1000).toISOString(), data.height_mm[i], data.ratio[i], data.temp_c[i], data.mat_on[i]]));
  }

  // narrowed brings the picture of all time down to what there is of it, and
  // reports whether that is so much less that the readings are wanted finer.
  function narrowed() {
    if (!data.at.length) return false;
    const first = data.at[firstKnown(data.ratio, data.height_mm, data.temp_c)] * 1000 - data.step_s * 1000;
    const much = first - from > (to - from) * 0.1;
    from = Math.max(from, first);
    return much;
  }

  function pointed(i) {
    if (i === null || !data || i >= data.at.length) return say(readout, '');
    return say(readout, t(vessel.mat ? 'curve.readout' : 'curve.readout_bare', { at: data.at[i] * 1000, rise: data.ratio[i] === null ? length(data.height_mm[i]) : times(data.ratio[i]), temp: data.temp_c[i], mat: t(data.mat_on[i] > 0.5 ? 'curve.on' : 'curve.off') }));
  }

  function keys(e) {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
    if (step && !e.shiftKey) chart.step(step);
    else if (step) move(step * 0.25);
    else if (e.key === '+' || e.key === '=') zoomTo(from + (to - from) / 4, to - (to - from) / 4);
    else if (e.key === '-') zoomTo(from - (to - from) / 2, Math.min(to + (to - from) / 2, now() + 12 * HOUR));
    else return;
    e.preventDefault();
  }

  function tabulate() {
    if (!numbers.open || !data) return;
    const every = Math.max(1, Math.ceil(data.at.length / 60));
    const rows = [];
    for (let i = data.at.length - 1; i >= 0; i -= every) rows.push([moment(data.at[i] * 1000), times(data.ratio[i]), length(data.height_mm[i]), degrees(data.temp_c[i]), data.mat_on[i] === null ? t('number.unknown') : data.mat_on[i] > 0.5 ? t('curve.on') : t('curve.off')]);
    numbers.lastChild.replaceChildren(table(t('curve.table_of', { name: vessel.name }), [t('column.time'), t('column.rise'), t('column.height'), t('column.temperature'), t('column.mat')], rows));
  }

  async function background() {
    try {
      const [{ refused: list }, { rows }] = await Promise.all([read(vesselPath(vessel.id, 'refused')), read(vesselPath(vessel.id, 'record'))]);
      refused.replaceChildren(...refusedList(list));
      record.replaceChildren(...recordOf(rows));
    } catch { /* the curve itself tells what is wrong */ }
  }

  frame();
  fetchNow();
  background();
  return {
    show(v) {
      vessel = v;
      if (data) say(summary, summarise(v, data));
      const jumped = Math.abs(now() - seen) > 90_000; // the kitchen's clock became known
      seen = now();
      if (jumped && follows) {
        if (!picked) zooms.choose(zoom = usual(v));
        frame();
        fetchNow();
        return;
      }
      const pause = to - from > 2 * 24 * HOUR ? 300_000 : to - from > 2 * HOUR ? 20_000 : 5_000;
      if (follows && Date.now() - asked > pause && document.visibilityState === 'visible') {
        frame();
        fetchNow();
      }
    },
    close() { asked = -1; chart.close(); },
  };
}

const iso = (t) => encodeURIComponent(new Date(t).toISOString());
const firstKnown = (...columns) => Math.max(0, Math.min(...columns.map((c) => { const i = c.findIndex((x) => x !== null); return i < 0 ? c.length - 1 : i; })));

function legend() {
  return h('ul', { class: 'legend', 'aria-label': t('curve.legend_label') }, ['rise', 'temperature', 'mat', 'fed', 'starter', 'peak', 'collapse', 'fault', 'forecast'].map((k) => h('li', { class: `key ${k}` }, t(`curve.legend.${k}`))));
}

// summarise says in words what the picture shows.
function summarise(v, d) {
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
function refusedList(list) {
  if (!list.length) return [h('h2', {}, t('outliers.title')), h('p', { class: 'quiet' }, t('outliers.none'))];
  return [h('details', {}, h('summary', {}, t('outliers.title')), h('ul', { class: 'plain-list' }, runs(list).slice(0, 12).map((run) => {
    const [last, first] = [run[0], run.at(-1)];
    const what = run.length > 1 ? t(`outliers.many.${last.what}`, { n: run.length }) : t(`outliers.one.${last.what}`, { value: last.value === null ? null : measured(last) });
    const when = clock(first.at) === clock(last.at) ? moment(last.at) : t('time.from_to', { from: first.at, to: last.at });
    return h('li', {}, h('p', {}, h('strong', {}, what), ' ', h('span', { class: 'age' }, when)), h('p', {}, last.why_say ? message(last.why_say) : sentence(last.why)));
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
function recordOf(rows) {
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
