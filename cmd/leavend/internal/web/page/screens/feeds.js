// The journal: what was fed and what became of it, feeds laid over each
// other, and what to keep and add next time.

import { h, say, set, show } from '../dom.js';
import { words } from '../words.js';
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
  const older = h('button', { type: 'button', hidden: true, onclick: () => load(true) }, words.older);
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const compare = comparison(v);
  const loaves = bakes(v, app, load);
  const leftovers = discardJar(v, app, load);
  const another = newStarter(v, app, load);
  const signs = h('section', { class: 'block' });
  const journal = h('section', { class: 'block' }, h('h2', {}, words.journalTitle), list, older);

  root.append(h('div', { class: 'sheet wide' },
    h('h1', {}, words.feedsOf(v)), vesselTabs('feeds', kitchen.vessels, v.id), counts, reminders, fails,
    h('div', { class: 'pair' }, amounts, need(v, app)),
    h('section', { class: 'block' }, h('h2', {}, words.compareTitle), compare.el),
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
    else amounts.replaceChildren(h('h2', {}, words.noFeeds), h('p', {}, words.noFeedsYet));
    compare.draw(book.feeds.filter((f) => chosen.has(f.id)));
  }

  function entry(f) {
    const o = f.outcome || {};
    const box = h('input', { type: 'checkbox', id: `lay-${f.id}` });
    box.checked = chosen.has(f.id);
    box.addEventListener('change', () => {
      if (box.checked && chosen.size >= MOST) {
        box.checked = false;
        app.complain(words.compareMost(MOST));
        return;
      }
      chosen[box.checked ? 'add' : 'delete'](f.id);
      compare.draw(book.feeds.filter((x) => chosen.has(x.id)));
    });
    const place = h('div');
    return h('li', {},
      h('div', { class: 'entry-head' }, h('h3', {}, h('time', { datetime: f.at }, words.dayAt(day(f.at), clock(f.at)))),
        f.found && h('span', { class: 'tag' }, words.fact.found), f.clean_jar && h('span', { class: 'tag' }, words.cleanJar), f.corrected && h('span', { class: 'tag' }, words.corrected)),
      h('p', {}, mixOf(f) || words.noAmounts),
      h('p', { class: 'quiet' }, outcomeOf(o)),
      f.note && h('p', { class: 'hand' }, f.note),
      h('div', { class: 'entry-foot' }, h('label', { class: 'tick', for: box.id }, box, words.layOver),
        h('button', { type: 'button', class: 'small', 'aria-label': words.correctFeed(moment(f.at)), onclick: () => edit(f, place, true) }, words.correct)),
      place);
  }

  // edit shows the form for one feed: the latest on top, others in place.
  function edit(f, place, closes) {
    if (place.contains(document.activeElement) && place.querySelector('form')) return;
    const form = feedForm(f, v, app, closes, async (body) => {
      const done = await app.change(() => put(vesselPath(v.id, `feeds/${encodeURIComponent(f.id)}`), body));
      if (!done) return;
      app.announce(words.kept);
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
  const line = (s) => h('li', {}, h('p', {}, h('strong', {}, sentence(s.name)), ' ', s.throw && h('span', { class: 'tag bad' }, words.signs.throw)),
    h('p', {}, sentence(words.signs.says(s))), h('p', { class: 'hint' }, words.signs.source(s.source)));
  return [h('h2', {}, words.signs.title), h('p', {}, words.signs.lead), h('details', {}, h('summary', {}, words.signs.all), h('ul', { class: 'plain-list' }, list.map(line)))];
}

function countsOf(v, b) {
  const parts = [];
  const last = b.feeds[0];
  if (last) parts.push(words.lastFed(span(ageS(last.at))));
  if (v.kind === 'jar') parts.push(words.sinceWash(b.feeds_since_clean_jar));
  return parts.join(' ');
}

const flourOf = (f) => f.flours.reduce((s, x) => s + x.grams, 0);

function mixOf(f) {
  if (!f.kept_g && !f.water_g && !flourOf(f)) return '';
  const flours = f.flours.map((x) => `${grams(x.grams)} ${x.kind}`).join(', ');
  return words.mix(grams(f.kept_g), flours || words.dash, grams(f.water_g), f.outcome?.ratio?.replaceAll(' ', '\u00a0'));
}

function outcomeOf(o) {
  const parts = [];
  if (o.rise_ratio) parts.push(words.out.rise(times(o.rise_ratio)));
  if (o.hours_to_top) parts.push(words.out.toTop(span(o.hours_to_top * 3600)));
  if (o.hours_on_top) parts.push(words.out.onTop(span(o.hours_on_top * 3600)));
  if (o.mean_temp_c) parts.push(words.out.warmth(degrees(o.mean_temp_c)));
  if (o.hydration_pct && o.hydration_pct !== 0) parts.push(words.out.hydration(plain(o.hydration_pct)));
  return parts.join(' · ') || words.out.none;
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
    flours.append(h('div', { class: 'two' }, field(words.form.flourKind, kind), field(words.form.flour(unit), amount)));
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
    say(sum, flour && b.kept_g ? words.form.sum(`1 : ${plain(flour / b.kept_g, 1)} : ${plain(b.water_g / b.kept_g, 1)}`, plain(100 * wet / dry), plain(100 * b.kept_g / flour), grams(b.kept_g + flour + b.water_g)) : '');
  }
  const form = h('form', { class: 'feed-form', oninput: total, onsubmit: (e) => { e.preventDefault(); save(body()); } },
    h(closes ? 'h4' : 'h2', {}, words.form.title(v, moment(f.at))),
    h('div', { class: 'two' }, field(words.form.kept(unit), kept), field(words.form.water(unit), water)),
    flours,
    h('button', { type: 'button', class: 'small', onclick: () => addFlour({ kind: '', grams: 0 }) }, words.form.another),
    h('div', { class: 'two' }, field(words.form.discard(unit), discard), field(words.form.waterTemp(degreeSign()), warm)),
    h('label', { class: 'tick' }, clean, words.form.clean),
    field(words.form.note, note), sum,
    h('div', { class: 'row' }, h('button', { class: 'strong' }, words.form.keep), h('button', { type: 'button', onclick: suggest }, words.form.suggest),
      closes && h('button', { type: 'button', onclick: cancel }, words.cancel)));
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
      if (s) say(said, words.need.says(grams(s.keep_g), s.flours.map((x) => `${grams(x.grams)} ${x.kind}`).join(', '), grams(s.water_g), grams(s.yield_g), s.why));
    },
  }, h('h2', {}, words.need.title), field(words.need.amount(weightSign()), amount, words.need.hint), h('div', { class: 'row' }, h('button', {}, words.need.ask)), said);
  return h('section', { class: 'block' }, v.kind === 'jar' ? form : null);
}

// comparison lays feeds over each other, all starting at their feed.
function comparison(v) {
  let against = 'time';
  let feeds = [];
  const cache = new Map();
  const box = h('div', { class: 'chart', role: 'img', 'aria-label': words.compareTitle, 'aria-describedby': 'compare-summary' });
  const says = h('p', { id: 'compare-summary' });
  const key = h('ol', { class: 'compare-key' });
  const none = h('p', { class: 'quiet', hidden: true }, words.compareNone);
  const numbers = h('details', {}, h('summary', {}, words.asTable), h('div'));
  const chart = compareChart(box);
  const pickAxis = choices(words.compareAgainst, [['time', words.against.time], ['warm', words.against.warm]], against, (a) => { against = a; render(); });
  const el = h('div', {}, h('p', { class: 'quiet' }, words.compareHow), pickAxis, h('div', { class: 'chart-frame' }, box), none, key, says, numbers);

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
    key.replaceChildren(...usable.map((c, i) => h('li', { class: `line-${i + 1}` }, words.dayAt(day(c.at), clock(c.at)))));
    const tops = usable.map((c) => {
      const best = c.ratio.reduce((m, x, i) => (x > c.ratio[m] ? i : m), 0);
      return [c, (warm ? c.warm_hours : c.hours)[best], c.ratio[best]];
    });
    say(says, tops.length ? `${warm ? words.compareWarm(degrees(usable[0].reference_c, 0)) : ''} ${tops.map(([, hours, r], i) => (r < RISEN ? words.compareYet(i + 1) : words.compareOne(i + 1, span(hours * 3600), times(r)))).join(' ')}`.trim() : '');
    numbers.lastChild.replaceChildren(table(words.compareTitle, [words.col.feed, words.col.greatest, words.col.after], tops.map(([c, hours, r]) => [moment(c.at), times(r), r < RISEN ? words.dash : span(hours * 3600)])));
    set(box, 'data-lines', usable.length);
  }
  return { el, draw, close: () => chart.close() };
}
