// A new starter in a jar: asked since when, because its pace is learnt from then
// on. In the journal it stands between the feeds.

import { h, show } from './dom.js';
import { t } from './text.js';
import { dayClock } from './times.js';
import { post, remove, vesselPath } from './api.js';

export function newStarter(v, app, again) {
  const open = h('button', { type: 'button', onclick: () => asks(true) }, t('starter.open'));
  const since = h('div', { class: 'row' });
  const question = h('div', { hidden: true }, h('p', {}, t('starter.since', { name: v.name })), since, h('p', { class: 'hint' }, t('starter.mould')));
  let last = null;

  function asks(yes) {
    if (yes) since.replaceChildren(...ways());
    show(question, yes);
    show(open, !yes);
    (yes ? since.firstChild : open).focus();
  }

  const ways = () => [
    last && h('button', { type: 'button', class: 'strong', onclick: () => begin({ feed: last.id }) }, t('starter.with_feed', { at: last.at })),
    h('button', { type: 'button', class: last ? null : 'strong', onclick: () => begin({}) }, t('starter.from_now')),
    h('button', { type: 'button', onclick: () => asks(false) }, t('common.cancel')),
  ].filter(Boolean);

  async function begin(body) {
    if (!(await app.change(() => post(vesselPath(v.id, 'starters'), body)))) return;
    asks(false);
    app.announce(t('starter.begun', { name: v.name }));
    again();
  }

  return {
    el: h('section', { class: 'block' }, h('h2', {}, t('starter.title')), h('p', {}, t('starter.lead')), open, question),
    show(book) { [last] = book.feeds; },
  };
}

// among puts the beginnings of starters between the feeds, newest first; one
// that began with a feed comes behind it.
export function among(v, app, book, entry, again) {
  async function takeBack(s) {
    if (!(await app.change(() => remove(vesselPath(v.id, `starters/${encodeURIComponent(s.id)}`)).then(() => true)))) return;
    app.announce(t('common.removed'));
    again();
  }

  const line = (s) => h('li', { class: 'begun' },
    h('div', { class: 'entry-head' }, h('h3', {}, h('time', { datetime: s.at }, dayClock(s.at))), h('span', { class: 'tag' }, t('starter.tag'))),
    h('p', {}, t('starter.line')), s.note && h('p', { class: 'hand' }, s.note),
    h('div', { class: 'entry-foot' }, h('button', { type: 'button', class: 'small', 'aria-label': t('starter.remove_of', { at: s.at }), onclick: () => takeBack(s) }, t('common.remove'))));

  return [...book.feeds.map((f) => [Date.parse(f.at), 1, () => entry(f)]), ...book.starters.map((s) => [Date.parse(s.at), 0, () => line(s)])]
    .sort((a, b) => b[0] - a[0] || b[1] - a[1]).map(([, , make]) => make());
}
