// What a loaf tells beside its stars: crumb, core, weight, the dough that it was baked from,
// and where the best loaves ended their bulk. rare/loafform.js asks for them.

import { h, say } from './dom.js';
import { t } from './text.js';
import { put, read } from './api.js';

// loafSays are the lines of a loaf's crumb, core, weight and dough.
export function loafSays(b) {
  const parts = [];
  if (b.crumb?.length) parts.push(b.crumb.map((c) => t(`bake.crumbs.${c}`)).join(', '));
  if (b.core_c) parts.push(t('bake.core_says', { temp: b.core_c }));
  if (b.weight_g) parts.push(t('bake.weight_says', { grams: b.weight_g }));
  const d = b.dough;
  return [
    parts.length > 0 && h('p', { class: 'quiet' }, parts.join(t('list.comma'))),
    d && h('p', { class: 'quiet' }, doughSays(d), ' ', h('a', { href: `#/feeds/${encodeURIComponent(d.bowl)}` }, t('bake.curve'))),
  ];
}

function doughSays(d) {
  const what = { recipe: d.recipe || t('bake.dough'), mixed: d.mixed, rise: d.rise, temp: d.temp_c };
  if (d.rise && d.temp_c) return t('bake.dough_ended_at', what);
  return t(d.rise ? 'bake.dough_ended' : 'bake.dough_mixed', what);
}

// bestStops says where the best loaves ended their bulk, and offers that as the target; it
// hands on the dough of which no loaf is written down.
export function bestStops(app, unrated) {
  const el = h('div');
  const fails = h('p', { class: 'wrong', role: 'alert' });

  async function use(s, on) {
    if (!(await app.change(() => put('loaves/stop', { recipe: s.recipe, cold: s.cold, rye: s.rye, use: on }).then(() => true)))) return;
    app.announce(t('common.saved'));
    load();
  }

  function line(s) {
    const says = t(s.cold ? 'bake.best_cold' : 'bake.best_room', { n: s.best, rated: s.rated, recipe: s.recipe || t(s.rye ? 'bake.no_recipe_rye' : 'bake.no_recipe'), low: s.low, high: s.high, temp: s.temp_c });
    return h('div', { class: 'best' }, h('p', {}, says), s.in_use && h('p', { class: 'quiet' }, t('bake.best_used', { rise: s.middle })),
      h('div', { class: 'row' }, h('button', { type: 'button', onclick: () => use(s, !s.in_use) }, s.in_use ? t('bake.best_drop') : t('bake.best_use', { rise: s.middle }))));
  }

  async function load() {
    try {
      const got = await read('loaves');
      el.replaceChildren(...got.stops.map(line), fails);
      unrated(got.ask);
    } catch (err) {
      say(fails, err.message);
    }
  }

  load();
  return { el, load };
}
