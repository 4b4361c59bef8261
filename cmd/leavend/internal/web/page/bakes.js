// Loaves with a note, a photo and stars. A correction keeps what was there.

import { h, say, show } from './dom.js';
import { t } from './text.js';
import { day } from './times.js';
import { post, put, remove, vesselPath } from './api.js';
import { bestStops, loafSays } from './loaf.js';

export function bakes(v, app, again) {
  const list = h('ul', { class: 'bakes' });
  const none = h('p', { class: 'quiet' }, t('bake.none'));
  const keep = async (body) => {
    if (!(await app.change(() => post(vesselPath(v.id, 'bakes'), body)))) return false;
    app.announce(t('common.saved'));
    best.load();
    again();
    return true;
  };

  function loaf(b) {
    const at = vesselPath(v.id, `bakes/${encodeURIComponent(b.id)}`);
    const place = h('div', { class: 'wide' });
    const close = () => place.replaceChildren();
    const correct = async () => {
      const { loafForm } = await app.rare('loafform');
      const form = loafForm(b, async (body) => {
        if (!(await app.change(() => put(at, { ...body, at: b.at })))) return false;
        app.announce(t('common.saved'));
        close();
        again();
        return true;
      }, close);
      place.replaceChildren(form);
      form.querySelector('textarea').focus();
    };
    const takeBack = async () => {
      if (!(await app.change(() => remove(at).then(() => true)))) return;
      app.announce(t('common.removed'));
      again();
    };
    return h('li', {},
      b.has_photo && h('img', { src: `api/${at}/photo`, alt: t('bake.photo_of', { day: b.at }), loading: 'lazy' }),
      h('div', {},
        h('p', {}, h('strong', {}, day(b.at)), ' ', b.stars > 0 && h('span', { class: 'stars', role: 'img', 'aria-label': t('bake.stars_of', { n: b.stars }) }, '★'.repeat(b.stars) + '☆'.repeat(5 - b.stars)),
          b.corrected && [' ', h('span', { class: 'tag' }, t('feeds.corrected'))]),
        loafSays(b),
        b.note && h('p', { class: 'hand' }, b.note),
        h('div', { class: 'row tight' },
          h('button', { type: 'button', class: 'small', 'aria-label': t('bake.correct_of', { day: b.at }), onclick: correct }, t('common.edit')),
          h('button', { type: 'button', class: 'small', 'aria-label': t('bake.remove_of', { day: b.at }), onclick: takeBack }, t('common.remove')))),
      place);
  }

  const add = h('summary', {}, t('bake.add'));
  const box = h('details', { ontoggle: fill }, add);
  async function fill() { // once it is opened
    if (box.open && !box.querySelector('form')) box.append((await app.rare('loafform')).loafForm(null, keep));
  }
  const best = bestStops(app, (dough) => {
    say(add, dough ? t('bake.ask', { recipe: dough.recipe || t('bake.dough'), mixed: dough.mixed }) : t('bake.add'));
  });
  return {
    el: h('section', { class: 'block' }, h('h2', {}, t('bake.title')), best.el, none, list, box),
    show(all) {
      show(none, all.length === 0);
      if (list.contains(document.activeElement) && list.querySelector('form')) return; // somebody is writing
      list.replaceChildren(...all.map(loaf));
    },
  };
}
