// What a baker needs once in a while: the discard jar, a new starter, and what
// looks and smells mean.

import { h, say } from '../dom.js';
import { t } from '../text.js';
import { pick, vesselTabs } from '../parts.js';
import { ageS } from '../times.js';
import { sentence } from '../units.js';
import { read, vesselPath } from '../api.js';
import { discardJar } from '../discard.js';
import { newStarter } from '../newstarter.js';

export function open(root, app, wanted) {
  let built = false;
  return {
    show(kitchen) {
      const jars = kitchen.vessels.filter((v) => v.kind === 'jar');
      const v = pick({ vessels: jars }, wanted);
      if (!v || built) return;
      built = true;
      build(root, app, jars, v);
    },
    close() {},
  };
}

function build(root, app, jars, v) {
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const leftovers = discardJar(v, app, load);
  const another = newStarter(v, app, load);
  const signs = h('section', { class: 'block' });
  root.append(h('div', { class: 'sheet wide' },
    h('p', {}, h('a', { href: `#/feeds/${encodeURIComponent(v.id)}` }, t('feeds.back'))),
    h('h1', {}, t('feeds.more')), vesselTabs('starter', jars, v.id), fails, h('div', { class: 'spread' }, leftovers.el, another.el, signs)));

  async function load() {
    try {
      const book = await read(vesselPath(v.id, 'book?limit=5'));
      another.show(book);
      leftovers.show(book, book.discard_since ? ageS(book.discard_since) : null);
      if (!signs.firstChild) signs.replaceChildren(...signList(book.signs));
    } catch (err) {
      say(fails, err.message);
    }
  }
  load();
}

// signList is what the trade makes of looks and smells.
function signList(list) {
  const line = (s) => h('li', {}, h('p', {}, h('strong', {}, sentence(s.name)), ' ', s.throw && h('span', { class: 'tag bad' }, t('signs.throw'))),
    h('p', {}, sentence(t('signs.says', { means: s.means, do: s.do }))), h('p', { class: 'hint' }, t('signs.source', { source: s.source })));
  return [h('h2', {}, t('signs.title')), h('p', {}, t('signs.lead')), h('details', {}, h('summary', {}, t('signs.all')), h('ul', { class: 'plain-list' }, list.map(line)))];
}
