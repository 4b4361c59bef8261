// The journal: what was fed and what became of it, feeds laid over each
// other, and what to keep and add next time.

import { h, say, set, show } from '../dom.js';
import { t } from '../text.js';
import { choices, field, pick, table, vesselTabs } from '../parts.js';
import { ageS, clock, day, degrees, degreesIn, degreesOf, degreeSign, grams, gramsIn, gramsOut, moment, plain, sentence, span, times, weightSign } from '../units.js';
import { put, read, vesselPath } from '../api.js';
import { compareChart } from '../comparechart.js';
import { discardJar } from '../discard.js';
import { bakes } from '../bakes.js';
import { newStarter } from '../newstarter.js';

const MOST = 6; // feeds laid over each other
const RISEN = 1.1; // a feed that rose less has not risen yet: the noise alone makes 1.06 of one

export function open(root, app, wanted) {
  let view = null;
  return {
    show(kitchen) {
      const v = pick(kitchen, wanted);
      if (!v) return;
      if (!view) view = build(root, app, kitchen, v);
      view.show(v);
    },
    close() { view?.close(); },
  };
}

function build(root, app, kitchen, v) {
  let latest = v.feed?.id;
  let book = { feeds: [], bakes: [], starters: [], reminders: [], discard_moves: [] };
  const chosen = new Set();
  const counts = h('p', { class: 'summary' });
  const reminders = h('ul', { class: 'reminders' });
  const amounts = h('section', { class: 'block' });
  const list = h('ol', { class: 'journal' });
  const older = h('button', { type: 'button', hidden: true, onclick: () => load(true) }, t('feeds.older'));
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const compare = comparison(v);
  const loaves = bakes(v, app, load);
  const leftovers = discardJar(v, app, load);
  const another = newStarter(v, app, load);
  const signs = h('section', { class: 'block' });
  const journal = h('section', { class: 'block' }, h('h2', {}, t('feeds.journal')), list, older);

  root.append(h('div', { class: 'sheet wide' },
    h('h1', {}, t('feeds_of')), vesselTabs('feeds', kitchen.vessels, v.id), counts, reminders, fails,
    h('div', { class: 'pair' }, amounts, need(v, app)),
    h('section', { class: 'block' }, h('h2', {}, t('compare.title')), compare.el),
    journal,
    v.kind === 'jar' && leftovers.el,
    v.kind === 'jar' && another.el,
    v.kind === 'jar' && signs,
    loaves.el));

  async function load(more) {
    try {
      const last = book.feeds.at(-1);
      const got = await read(vesselPath(v.id, more && last ? `book?limit=30&before=${encodeURIComponent(last.at)}` : 'book?limit=8'));
      if (more) for (const part of ['feeds', 'bakes', 'starters']) got[part] = [...book[part], ...got[part].filter((x) => !book[part].some((y) => y.id === x.id))];
      book = got;
      if (!chosen.size) book.feeds.slice(0, 3).forEach((f) => chosen.add(f.id));
      render();
    } catch (err) {
      say(fails, err.message);
    }
  }

  function render() {
    say(counts, countsOf(v, book));
    reminders.replaceChildren(...book.reminders.map((r) => h('li', {}, r.text)));
    show(reminders, book.reminders.length > 0);
    another.show(book);
    list.replaceChildren(...another.among(book, entry));
    show(older, book.more);
    show(journal, book.feeds.length > 0);
    loaves.show(book.bakes);
    if (!signs.firstChild) signs.replaceChildren(...signList(book.signs));
    leftovers.show(book, book.discard_since ? span(ageS(book.discard_since)) : null);
    if (book.feeds[0]) edit(book.feeds[0], amounts, false);
    else amounts.replaceChildren(h('h2', {}, t('feeds.none')), h('p', {}, t('feeds.none_yet')));
    compare.draw(book.feeds.filter((f) => chosen.has(f.id)));
  }

  function entry(f) {
    const o = f.outcome || {};
    const box = h('input', { type: 'checkbox', id: `lay-${f.id}` });
    box.checked = chosen.has(f.id);
    box.addEventListener('change', () => {
      if (box.checked && chosen.size >= MOST) {
        box.checked = false;
        app.complain(t('compare.most', { n: MOST }));
        return;
      }
      chosen[box.checked ? 'add' : 'delete'](f.id);
      compare.draw(book.feeds.filter((x) => chosen.has(x.id)));
    });
    const place = h('div');
    return h('li', {},
      h('div', { class: 'entry-head' }, h('h3', {}, h('time', { datetime: f.at }, t('time.on', { day: f.at, clock: f.at }))),
        f.found && h('span', { class: 'tag' }, t('feeds.found')), f.clean_jar && h('span', { class: 'tag' }, t('feeds.clean_jar')), f.corrected && h('span', { class: 'tag' }, t('feeds.corrected'))),
      h('p', {}, mixOf(f) || t('feeds.no_amounts')),
      h('p', { class: 'quiet' }, outcomeOf(o)),
      f.note && h('p', { class: 'hand' }, f.note),
      h('div', { class: 'entry-foot' }, h('label', { class: 'tick', for: box.id }, box, t('feeds.compare')),
        h('button', { type: 'button', class: 'small', 'aria-label': t('feeds.edit_of', { at: f.at }), onclick: () => edit(f, place, true) }, t('common.edit'))),
      place);
  }

  // edit shows the form for one feed: the latest on top, others in place.
  function edit(f, place, closes) {
    if (place.contains(document.activeElement) && place.querySelector('form')) return;
    const form = feedForm(f, v, app, closes, async (body) => {
      const done = await app.change(() => put(vesselPath(v.id, `feeds/${encodeURIComponent(f.id)}`), body));
      if (!done) return;
      app.announce(t('common.saved'));
      place.replaceChildren();
      load();
    }, () => place.replaceChildren());
    place.replaceChildren(form);
    if (closes) form.querySelector('input').focus();
  }

  load();
  return {
    show(now) {
      if (now.feed?.id === latest) return;
      latest = now.feed?.id;
      load();
    },
    close() { compare.close(); },
  };
}

// signList is what the trade makes of looks and smells.
function signList(list) {
  const line = (s) => h('li', {}, h('p', {}, h('strong', {}, sentence(s.name)), ' ', s.throw && h('span', { class: 'tag bad' }, t('signs.throw'))),
    h('p', {}, sentence(t('signs.says', { means: s.means, do: s.do }))), h('p', { class: 'hint' }, t('signs.source', { source: s.source })));
  return [h('h2', {}, t('signs.title')), h('p', {}, t('signs.lead')), h('details', {}, h('summary', {}, t('signs.all')), h('ul', { class: 'plain-list' }, list.map(line)))];
}

function countsOf(v, b) {
  const parts = [];
  const last = b.feeds[0];
  if (last) parts.push(t('feeds.last', { span: ageS(last.at) }));
  if (v.kind === 'jar') parts.push(t('feeds.since_clean_jar', { n: b.feeds_since_clean_jar }));
  return parts.join(' ');
}

const flourOf = (f) => f.flours.reduce((s, x) => s + x.grams, 0);

function mixOf(f) {
  if (!f.kept_g && !f.water_g && !flourOf(f)) return '';
  const flours = f.flours.map((x) => `${grams(x.grams)} ${x.kind}`).join(', ');
  return t('feeds.mix', { kept: f.kept_g, flours: flours || t('number.unknown'), water: f.water_g, ratio: f.outcome?.ratio?.replaceAll(' ', '\u00a0') });
}

function outcomeOf(o) {
  const parts = [];
  if (o.rise_ratio) parts.push(t('feeds.rose', { ratio: o.rise_ratio }));
  if (o.hours_to_top) parts.push(t('feeds.peaked', { span: o.hours_to_top * 3600 }));
  if (o.hours_on_top) parts.push(t('feeds.stayed', { span: o.hours_on_top * 3600 }));
  if (o.mean_temp_c) parts.push(t('feeds.at', { temp: o.mean_temp_c }));
  if (o.hydration_pct && o.hydration_pct !== 0) parts.push(t('feeds.hydration', { percent: o.hydration_pct }));
  return parts.join(' · ') || t('feeds.no_outcome');
}

const number = (value, most) => {
  const el = h('input', { type: 'number', inputmode: 'decimal', min: 0, max: most, step: 'any' });
  el.value = value || '';
  return el;
};

// feedForm takes the amounts and shows what they come to while they are typed.
function feedForm(f, v, app, closes, save, cancel) {
  const kept = number(gramsOut(f.kept_g), 20000);
  const water = number(gramsOut(f.water_g), 20000);
  const discard = number(gramsOut(f.discard_g), 20000);
  const warm = number(f.water_temp_c === undefined ? '' : Math.round(degreesOf(f.water_temp_c)), 212);
  const clean = h('input', { type: 'checkbox' });
  clean.checked = f.clean_jar;
  const note = h('textarea', { rows: 2, maxlength: 2000 });
  note.value = f.note || '';
  const flours = h('div', { class: 'flours' });
  const sum = h('p', { class: 'sum', role: 'status' });
  const unit = weightSign();
  const addFlour = (x) => {
    const kind = h('input', { type: 'text', maxlength: 60, autocomplete: 'off' });
    kind.value = x.kind;
    const amount = number(gramsOut(x.grams), 20000);
    flours.append(h('div', { class: 'two' }, field(t('feed_form.flour'), kind), field(t('feed_form.flour_weight', { unit }), amount)));
  };
  (f.flours.length ? f.flours : [{ kind: '', grams: 0 }]).forEach(addFlour);
  const flourRows = () => [...flours.children].map((row) => {
    const [kind, amount] = row.querySelectorAll('input');
    return { kind: kind.value.trim(), grams: round(gramsIn(Number(amount.value) || 0)) };
  }).filter((x) => x.grams > 0);
  const body = () => ({
    at: f.at, kept_g: round(gramsIn(Number(kept.value) || 0)), flours: flourRows(), water_g: round(gramsIn(Number(water.value) || 0)),
    discard_g: round(gramsIn(Number(discard.value) || 0)), clean_jar: clean.checked, note: note.value.trim(),
    ...(warm.value === '' ? {} : { water_temp_c: round(degreesIn(Number(warm.value))) }),
  });
  const suggest = async () => {
    const s = await app.change(() => read(vesselPath(v.id, 'suggestion')));
    if (!s) return;
    kept.value = gramsOut(s.keep_g);
    water.value = gramsOut(s.water_g);
    flours.replaceChildren();
    s.flours.forEach(addFlour);
    total();
    app.announce(s.why);
  };
  function total() {
    const b = body();
    const flour = flourOf(b);
    // Half of the kept starter counts as flour: common practice, true for a starter of equal weights.
    const wet = b.water_g + b.kept_g / 2;
    const dry = flour + b.kept_g / 2;
    say(sum, flour && b.kept_g ? t('feed_form.sum', { ratio: `1 : ${plain(flour / b.kept_g, 1)} : ${plain(b.water_g / b.kept_g, 1)}`, hydration: 100 * wet / dry, inoculation: 100 * b.kept_g / flour, total: b.kept_g + flour + b.water_g }) : '');
  }
  const form = h('form', { class: 'feed-form', oninput: total, onsubmit: (e) => { e.preventDefault(); save(body()); } },
    h(closes ? 'h4' : 'h2', {}, t('feed_form.title')),
    h('div', { class: 'two' }, field(t('feed_form.kept', { unit }), kept), field(t('feed_form.water', { unit }), water)),
    flours,
    h('button', { type: 'button', class: 'small', onclick: () => addFlour({ kind: '', grams: 0 }) }, t('feed_form.another_flour')),
    h('div', { class: 'two' }, field(t('feed_form.discard', { unit }), discard), field(t('feed_form.water_temperature', { unit: degreeSign() }), warm)),
    h('label', { class: 'tick' }, clean, t('feed_form.clean')),
    field(t('feed_form.note'), note), sum,
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('common.save')), h('button', { type: 'button', onclick: suggest }, t('feed_form.same_as_last')),
      closes && h('button', { type: 'button', onclick: cancel }, t('common.cancel'))));
  total();
  return form;
}

const round = (x) => Math.round(x * 100) / 100;

// need answers "I need so much ripe starter".
function need(v, app) {
  const amount = number('', 20000);
  const said = h('p', { class: 'sum', role: 'status' });
  const form = h('form', {
    onsubmit: async (e) => {
      e.preventDefault();
      const g = round(gramsIn(Number(amount.value) || 0));
      if (g <= 0) return;
      const s = await app.change(() => read(vesselPath(v.id, `suggestion?need_g=${g}`)));
      if (s) say(said, t('need.says', { keep: s.keep_g, flours: s.flours.map((x) => `${grams(x.grams)} ${x.kind}`).join(', '), water: s.water_g, yields: s.yield_g, why: s.why }));
    },
  }, h('h2', {}, t('need.title')), field(t('need.amount', { unit: weightSign() }), amount, t('need.hint')), h('div', { class: 'row' }, h('button', {}, t('need.ask'))), said);
  return h('section', { class: 'block' }, v.kind === 'jar' ? form : null);
}

// comparison lays feeds over each other, all starting at their feed.
function comparison(v) {
  let against = 'time';
  let feeds = [];
  const cache = new Map();
  const box = h('div', { class: 'chart', role: 'img', 'aria-label': t('compare.title'), 'aria-describedby': 'compare-summary' });
  const says = h('p', { id: 'compare-summary' });
  const key = h('ol', { class: 'compare-key' });
  const none = h('p', { class: 'quiet', hidden: true }, t('compare.none'));
  const numbers = h('details', {}, h('summary', {}, t('curve.as_table')), h('div'));
  const chart = compareChart(box);
  const pickAxis = choices(t('compare.against'), [['time', t('compare.by_hours')], ['warm', t('compare.by_thermal_time')]], against, (a) => { against = a; render(); });
  const el = h('div', {}, h('p', { class: 'quiet' }, t('compare.how')), pickAxis, h('div', { class: 'chart-frame' }, box), none, key, says, numbers);

  async function draw(list) {
    feeds = list;
    const missing = list.filter((f) => !cache.has(f.id));
    await Promise.all(missing.map(async (f) => {
      try {
        cache.set(f.id, await read(vesselPath(v.id, `feeds/${encodeURIComponent(f.id)}/curve`)));
      } catch { /* a feed without a curve is left out */ }
    }));
    render();
  }

  function render() {
    const curves = feeds.map((f) => cache.get(f.id)).filter((c) => c && c.hours.length);
    show(none, curves.length === 0);
    for (const part of [box.parentElement, pickAxis, numbers]) show(part, curves.length > 0);
    const warm = against === 'warm';
    const usable = warm ? curves.filter((c) => c.warm_hours.length) : curves;
    chart.draw(usable, warm);
    key.replaceChildren(...usable.map((c, i) => h('li', { class: `line-${i + 1}` }, t('time.on', { day: c.at, clock: c.at }))));
    const tops = usable.map((c) => {
      const best = c.ratio.reduce((m, x, i) => (x > c.ratio[m] ? i : m), 0);
      return [c, (warm ? c.warm_hours : c.hours)[best], c.ratio[best]];
    });
    say(says, tops.length ? `${warm ? t('compare.at_temperature', { at: degrees(usable[0].reference_c, 0) }) : ''} ${tops.map(([, hours, r], i) => (r < RISEN ? t('compare.not_risen', { n: i + 1 }) : t('compare.one', { n: i + 1, after: hours * 3600, ratio: r }))).join(' ')}`.trim() : '');
    numbers.lastChild.replaceChildren(table(t('compare.title'), [t('column.feed'), t('column.greatest'), t('column.after')], tops.map(([c, hours, r]) => [moment(c.at), times(r), r < RISEN ? t('number.unknown') : span(hours * 3600)])));
    set(box, 'data-lines', usable.length);
  }
  return { el, draw, close: () => chart.close() };
}
