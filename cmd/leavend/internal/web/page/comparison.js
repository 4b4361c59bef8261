// Feeds compared: their curves laid over each other, all starting at their feed.

import { h, say, set, show } from './dom.js';
import { t } from './text.js';
import { choices, table } from './parts.js';
import { dayClock, moment, span } from './times.js';
import { times } from './units.js';
import { read, vesselPath } from './api.js';
import { compareChart } from './comparechart.js';

const RISEN = 1.1; // a feed that rose less has not risen yet: the noise alone makes 1.06 of one

// peakOf is when a feed peaked, as it was called and as the journal has it, and its
// rise there; before the call, or where it was missed, the greatest rise so far.
function peakOf(c, warm) {
  if (c.peak_ratio !== null && c.peak_hours !== null) return [warm ? c.peak_warm_hours : c.peak_hours, c.peak_ratio];
  const best = c.ratio.reduce((m, x, i) => (x > c.ratio[m] ? i : m), 0);
  return [(warm ? c.warm_hours : c.hours)[best], c.ratio[best]];
}

// sentenceFor is the key of what is said of a curve.
function sentenceFor(c, highest) {
  if (highest < RISEN) return 'compare.not_risen';
  return c.rising ? 'compare.rising' : 'compare.one';
}

// comparison lays feeds over each other, all starting at their feed.
export function comparison(v) {
  let against = 'time';
  let feeds = [];
  let rising = ''; // the feed that still rises
  const cache = new Map();
  const box = h('div', { class: 'chart', role: 'img', 'aria-label': t('compare.title'), 'aria-describedby': 'compare-summary' });
  const says = h('p', { id: 'compare-summary' });
  const key = h('ol', { class: 'compare-key' });
  const none = h('p', { class: 'quiet', hidden: true }, t('compare.none'));
  const numbers = h('details', {}, h('summary', {}, t('curve.as_table')), h('div'));
  const chart = compareChart(box);
  const pickAxis = choices(t('compare.against'), [['time', t('compare.by_hours')], ['warm', t('compare.by_thermal_time')]], against, (a) => { against = a; render(); });
  const el = h('div', {}, h('p', { class: 'quiet' }, t('compare.how')), pickAxis, h('div', { class: 'chart-frame' }, box), none, key, says, numbers);

  async function draw(list, stillRising) {
    feeds = list;
    rising = stillRising;
    const missing = list.filter((f) => !cache.has(f.id));
    await Promise.all(missing.map(async (f) => {
      try {
        cache.set(f.id, await read(vesselPath(v.id, `feeds/${encodeURIComponent(f.id)}/curve`)));
      } catch { /* a feed without a curve is left out */ }
    }));
    render();
  }

  function render() {
    const curves = feeds.map((f) => cache.has(f.id) && { ...cache.get(f.id), rising: f.id === rising }).filter((c) => c && c.hours.length);
    show(none, curves.length === 0);
    for (const part of [box.parentElement, pickAxis, numbers]) show(part, curves.length > 0);
    const warm = against === 'warm';
    const usable = warm ? curves.filter((c) => c.warm_hours.length) : curves;
    chart.draw(usable, warm);
    key.replaceChildren(...usable.map((c, i) => h('li', { class: `line-${i + 1}` }, dayClock(c.at))));
    const tops = usable.map((c) => [c, ...peakOf(c, warm)]);
    say(says, tops.length ? `${warm ? t('compare.at_temperature', { at: usable[0].reference_c }) : ''} ${tops.map(([c, hours, r], i) => t(sentenceFor(c, r), { n: i + 1, after: hours * 3600, ratio: r })).join(' ')}`.trim() : '');
    numbers.lastChild.replaceChildren(table(t('compare.title'), [t('column.feed'), t('column.greatest'), t('column.after')], tops.map(([c, hours, r]) => [moment(c.at), times(r), r < RISEN ? t('number.unknown') : span(hours * 3600)])));
    set(box, 'data-lines', usable.length);
  }
  return { el, draw, close: () => chart.close() };
}
