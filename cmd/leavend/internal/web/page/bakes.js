// Loaves with a note, a photo and stars.

import { h, say, show } from './dom.js';
import { words } from './words.js';
import { field } from './parts.js';
import { day } from './units.js';
import { post, vesselPath } from './api.js';

export function bakes(v, app) {
  const list = h('ul', { class: 'bakes' });
  const none = h('p', { class: 'quiet' }, words.bake.none);
  const note = h('textarea', { rows: 2, maxlength: 2000 });
  const photo = h('input', { type: 'file', accept: 'image/*' });
  const stars = starField();
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const button = h('button', {}, words.bake.keep);
  const form = h('form', { onsubmit: save }, h('h3', {}, words.bake.add), stars.el, field(words.bake.note, note), field(words.bake.photo, photo, words.bake.photoHint), fails, h('div', { class: 'row' }, button));

  async function save(e) {
    e.preventDefault();
    say(fails, '');
    button.disabled = true;
    try {
      const body = { stars: stars.value(), note: note.value.trim(), ...(photo.files[0] ? { photo: await shrink(photo.files[0]) } : {}) };
      const made = await app.change(() => post(vesselPath(v.id, 'bakes'), body));
      if (made) {
        list.prepend(loaf(made));
        show(none, false);
        form.reset();
        app.announce(words.kept);
      }
    } catch {
      say(fails, words.bake.badPhoto);
    }
    button.disabled = false;
  }

  function loaf(b) {
    return h('li', {},
      b.has_photo && h('img', { src: `api/${vesselPath(v.id, `bakes/${encodeURIComponent(b.id)}/photo`)}`, alt: words.bake.photoOf(day(b.at)), loading: 'lazy' }),
      h('div', {}, h('p', {}, h('strong', {}, day(b.at)), ' ', b.stars > 0 && h('span', { class: 'stars', role: 'img', 'aria-label': words.bake.starsOf(b.stars) }, '★'.repeat(b.stars) + '☆'.repeat(5 - b.stars))), b.note && h('p', { class: 'hand' }, b.note)));
  }

  return {
    el: h('section', { class: 'block' }, h('h2', {}, words.bake.title), h('div', { class: 'pair' }, h('div', {}, none, list), form)),
    show(all) {
      show(none, all.length === 0);
      list.replaceChildren(...all.map(loaf));
    },
  };
}

function starField() {
  const inputs = [1, 2, 3, 4, 5].map((n) => h('input', { type: 'radio', name: 'stars', value: n, 'aria-label': words.bake.starsOf(n) }));
  return {
    el: h('fieldset', { class: 'star-field' }, h('legend', {}, words.bake.stars), inputs.map((i) => h('label', {}, i, h('span', { 'aria-hidden': 'true' }, i.value)))),
    value: () => Number(inputs.find((i) => i.checked)?.value || 0),
  };
}

// shrink makes a photo small enough to keep for years: 1280 pixels, JPEG.
async function shrink(file) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, 1280 / Math.max(picture.width, picture.height));
  const c = document.createElement('canvas');
  c.width = Math.round(picture.width * scale);
  c.height = Math.round(picture.height * scale);
  c.getContext('2d').drawImage(picture, 0, 0, c.width, c.height);
  return c.toDataURL('image/jpeg', 0.82).split(',')[1];
}
