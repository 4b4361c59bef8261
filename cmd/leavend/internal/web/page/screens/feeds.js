// The journal: the last feed, what to feed next, what became of each feed, and
// feeds compared.

import { h, say, show } from '../dom.js';
import { capital, message, t } from '../text.js';
import { download, field, nothingYet, pick, vesselTabs } from '../parts.js';
import { ageS, dayClock, moment } from '../times.js';
import { grams, gramsIn, weightSign } from '../units.js';
import { put, read, remove, vesselPath } from '../api.js';
import { bakes } from '../bakes.js';
import { among } from '../newstarter.js';
import { flourName } from '../flours.js';
import { comparison } from '../comparison.js';
import { forgotten } from '../forgotten.js';
import { mixOf, number, round } from '../mix.js';

const MOST = 6; // feeds compared at once

export function open(root, app, wanted) {
  let view = null;
  return {
    show(kitchen) {
      const v = pick(kitchen, wanted);
      if (!v) {
        if (!root.firstChild) root.append(h('h1', { class: 'unseen' }, t('screen.feeds')), nothingYet());
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

function build(root, app, kitchen, v) {
  let latest = v.feed?.id;
  const nameOf = (id) => kitchen.vessels.find((j) => j.id === id)?.name || id;
  let stands = v;
  let book = { feeds: [], bakes: [], starters: [], reminders: [] };
  const chosen = new Set();
  const counts = h('p', { class: 'summary' });
  const reminders = h('ul', { class: 'reminders' });
  const list = h('ol', { class: 'journal' });
  const none = h('p', { class: 'quiet', hidden: true }, t('feeds.none_yet'));
  const older = h('button', { type: 'button', hidden: true, onclick: () => load(true) }, t('feeds.older'));
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const compare = comparison(v);
  const loaves = bakes(v, app, load);
  const add = h('button', { type: 'button', onclick: async () => { if (await forgotten(v, app)) load(); } }, t('feeds.forgotten'));

  root.append(h('div', { class: 'sheet wide' },
    h('h1', {}, t(`feeds.of.${v.kind}`, { name: v.name })), vesselTabs('feeds', kitchen.vessels, v.id), counts, reminders, fails,
    h('div', { class: 'feeds' },
      h('section', { class: 'block journal-part' }, h('h2', {}, t('feeds.journal')), none, list, h('div', { class: 'row' }, add, older, h('button', { type: 'button', onclick: save }, t('feeds.download')))),
      v.kind === 'jar' && need(v, app),
      h('section', { class: 'block compare-part' }, h('h2', {}, t('compare.title')), compare.el),
      loaves.el,
      h('section', { class: 'block' }, h('h2', {}, t('feeds.more')), h('p', {}, t('feeds.more_hint')),
        h('div', { class: 'row' }, h('a', { class: 'button', href: `#/starter/${encodeURIComponent(v.id)}` }, t('feeds.more_link')))))));

  async function load(more) {
    try {
      const last = book.feeds.at(-1);
      const got = await read(vesselPath(v.id, more && last ? `book?limit=30&before=${encodeURIComponent(last.at)}` : 'book?limit=4'));
      if (more) for (const part of ['feeds', 'bakes', 'starters']) got[part] = [...book[part], ...got[part].filter((x) => !book[part].some((y) => y.id === x.id))];
      book = got;
      if (!chosen.size) book.feeds.slice(0, 3).forEach((f) => chosen.add(f.id));
      render();
    } catch (err) {
      say(fails, err.message);
    }
  }

  // save hands over the whole journal.
  async function save() {
    const all = [];
    for (let before = ''; ;) {
      const got = await app.change(() => read(vesselPath(v.id, `book?limit=200${before && `&before=${encodeURIComponent(before)}`}`)));
      if (!got) return;
      all.push(...got.feeds);
      if (!got.more) break;
      before = got.feeds.at(-1).at;
    }
    download(`${v.id}-feeds.csv`, ['time', 'starter_g', 'flour', 'water_g', 'discard_g', 'water_temperature_c', 'clean_jar', 'rise_ratio', 'hours_to_peak', 'mean_temperature_c', 'note'],
      all.map((f) => [f.at, f.kept_g, f.flours.map((x) => `${x.grams} g ${x.kind}`).join(' + '), f.water_g, f.discard_g, f.water_temp_c, f.clean_jar ? 'yes' : '', f.outcome?.rise_ratio, f.outcome?.hours_to_top, f.outcome?.mean_temp_c, f.note]));
  }

  function render() {
    say(counts, countsOf(v, book));
    reminders.replaceChildren(...book.reminders.map((r) => h('li', {}, message(r.say, r.text))));
    show(reminders, book.reminders.length > 0);
    if (!list.querySelector('form')) list.replaceChildren(...among(v, app, book, entry, load)); // somebody is writing
    show(older, book.more);
    show(none, book.feeds.length === 0);
    loaves.show(book.bakes);
    lay();
  }

  function lay() {
    const [running] = book.feeds;
    compare.draw(book.feeds.filter((f) => chosen.has(f.id)), running && !running.outcome?.rise_ratio && stillRises(stands) ? running.id : '');
  }

  function entry(f) {
    const box = h('input', { type: 'checkbox', id: `lay-${f.id}` });
    box.checked = chosen.has(f.id);
    box.addEventListener('change', () => {
      if (box.checked && chosen.size >= MOST) {
        box.checked = false;
        app.complain(t('compare.most', { n: MOST }));
        return;
      }
      chosen[box.checked ? 'add' : 'delete'](f.id);
      lay();
    });
    const place = h('div');
    const mix = mixOf(f);
    const outcome = outcomeOf(f.outcome || {}) || (f === book.feeds[0] ? soFar(stands, f) : '');
    return h('li', {},
      h('div', { class: 'entry-head' }, h('h3', {}, h('time', { datetime: f.at }, dayClock(f.at))),
        f.found && h('span', { class: 'tag' }, t('feeds.found')), f.clean_jar && h('span', { class: 'tag' }, t('feeds.clean_jar')), f.from && h('span', { class: 'tag' }, t('feeds.levain_from', { name: nameOf(f.from) })), f.corrected && h('span', { class: 'tag' }, t('feeds.corrected'))),
      h('p', { class: mix ? null : 'quiet' }, mix || t('feeds.no_amounts')),
      outcome && h('p', { class: 'quiet' }, outcome),
      f.note && h('p', { class: 'hand' }, f.note),
      h('div', { class: 'entry-foot' }, h('label', { class: 'tick', for: box.id }, box, t('feeds.compare')),
        h('button', { type: 'button', class: 'small', 'aria-label': mix ? t('feeds.edit_of', { at: f.at }) : `${t('now.amounts')}: ${moment(f.at)}`, onclick: () => edit(f, place) }, mix ? t('common.edit') : t('now.amounts'))),
      place);
  }

  // edit shows the form for one feed in its place.
  async function edit(f, place) {
    const { feedForm } = await app.rare('feedform');
    const at = vesselPath(v.id, `feeds/${encodeURIComponent(f.id)}`);
    const done = (text) => {
      app.announce(text);
      place.replaceChildren();
      load();
    };
    const form = feedForm(f, v, app, {
      jars: v.kind === 'jar' ? kitchen.vessels.filter((j) => j.kind === 'jar' && j.id !== v.id) : [],
      save: async (body) => { if (await app.change(() => put(at, body))) done(t('common.saved')); },
      takeAway: async () => { if (await app.change(() => remove(at).then(() => true))) done(t('common.removed')); },
      cancel: () => place.replaceChildren(),
    });
    place.replaceChildren(form);
    form.querySelector('input').focus();
  }

  load();
  return {
    show(now) {
      stands = now;
      if (book.feeds.length) say(counts, countsOf(v, book));
      if (now.feed?.id === latest) return;
      latest = now.feed?.id;
      load();
    },
    close() { compare.close(); },
  };
}

function countsOf(v, b) {
  const parts = [];
  const [last] = b.feeds;
  if (last) parts.push(t('feeds.last', { span: ageS(last.at) }));
  if (last && v.kind === 'jar') parts.push(b.feeds_since_clean_jar ? t('feeds.since_clean_jar', { n: b.feeds_since_clean_jar }) : t('feeds.fresh_jar'));
  return parts.join(' ');
}

// soFar is what is known of the running feed.
function soFar(v, f) {
  if (v.top) return outcomeOf({ rise_ratio: v.top.ratio, hours_to_top: (Date.parse(v.top.top_at) - Date.parse(f.at)) / 36e5 });
  return stillRises(v) ? t('feeds.no_outcome') : '';
}

const stillRises = (v) => !v.top && (v.stage === 'settling' || v.stage === 'rising');

function outcomeOf(o) {
  if (!o.rise_ratio) return '';
  const parts = [t('feeds.rose', { ratio: o.rise_ratio })];
  if (o.hours_to_top) parts.push(t('feeds.peaked', { span: o.hours_to_top * 3600 }));
  if (o.hours_on_top) parts.push(t('feeds.stayed', { span: o.hours_on_top * 3600 }));
  if (o.mean_temp_c) parts.push(t('feeds.at', { temp: o.mean_temp_c }));
  if (o.hydration_pct && Math.round(o.hydration_pct) !== 100) parts.push(t('feeds.hydration', { percent: o.hydration_pct }));
  return `${capital(parts.join(t('list.comma')))}.`;
}

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
      if (s) say(said, t('need.says', { keep: s.keep_g, flours: s.flours.map((x) => `${grams(x.grams)} ${flourName(x.kind)}`).join(', '), water: s.water_g, yields: s.yield_g, why: s.why }));
    },
  }, h('h2', {}, t('need.title')), field(t('need.amount', { unit: weightSign() }), amount, t('need.hint')), h('div', { class: 'row' }, h('button', {}, t('need.ask'))), said);
  return h('section', { class: 'block need-part' }, form);
}
