// The rise curve from an hour to years, with the warmth, the mat, the feeds,
// the call and the forecast.

import { h, say, set, show } from '../dom.js';
import { t } from '../text.js';
import { choices, download, nothingYet, pick, table, vesselTabs } from '../parts.js';
import { ageS, day, moment, now } from '../times.js';
import { degrees, length, times } from '../units.js';
import { read, vesselPath } from '../api.js';
import { savePicture } from '../chart.js';
import { curveChart } from '../curvechart.js';
import { recordOf, refusedList, summarise } from '../curvesays.js';

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
  const refused = h('div');
  const record = h('section', { class: 'block' });
  const key = legend();
  const keyOf = (k) => key.querySelector(`.${k}`);
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
    numbers, refused, record));

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
      explain();
      set(box, 'data-points', data.at.length);
      tabulate();
    } catch (err) {
      say(fails, err.message);
    }
  }

  // explain keeps in the legend what there is in the picture.
  function explain() {
    const kinds = new Set(data.marks.map((m) => (m.kind === 'target' || m.kind === 'top' ? 'peak' : m.kind)));
    for (const k of ['fed', 'starter', 'peak', 'collapse']) show(keyOf(k), kinds.has(k));
    show(keyOf('fault'), [...kinds].some((k) => !['fed', 'starter', 'peak', 'collapse'].includes(k)));
    show(keyOf('temperature'), data.temp_c.some((x) => x !== null));
    show(keyOf('mat'), data.mat_on.some((x) => x !== null));
    show(keyOf('forecast'), Boolean(vessel.forecast) && Date.parse(vessel.forecast.low_at) < to);
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
      const moved = v.forecast?.top_at !== vessel.forecast?.top_at;
      vessel = v;
      if (data) say(summary, summarise(v, data));
      if (data && moved) {
        explain();
        chart.redraw();
      }
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
