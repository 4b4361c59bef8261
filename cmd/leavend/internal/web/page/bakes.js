// Loaves with a note, a photo and stars. A correction keeps what was there.

import { h, say, show } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { day } from './times.js';
import { post, put, remove, vesselPath } from './api.js';
import { bestStops, loafFields, loafSays } from './loaf.js';

export function bakes(v, app, again) {
  const list = h('ul', { class: 'bakes' });
  const none = h('p', { class: 'quiet' }, t('bake.none'));
  const fresh = loafForm(app, null, async (body) => {
    if (!(await app.change(() => post(vesselPath(v.id, 'bakes'), body)))) return false;
    app.announce(t('common.saved'));
    best.load();
    again();
    return true;
  });

  function loaf(b) {
    const at = vesselPath(v.id, `bakes/${encodeURIComponent(b.id)}`);
    const place = h('div', { class: 'wide' });
    const close = () => place.replaceChildren();
    const correct = () => {
      const form = loafForm(app, b, async (body) => {
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
  const box = h('details', {}, add, fresh);
  const best = bestStops(app, (dough) => {
    say(add, dough ? t('bake.ask', { recipe: dough.recipe || t('bake.dough'), mixed: dough.mixed }) : t('bake.add'));
    if (dough) box.open = true;
  });
  return {
    el: h('section', { class: 'block' }, h('h2', {}, t('bake.title')), best.el, h('div', { class: 'pair' }, h('div', {}, none, list), box)),
    show(all) {
      show(none, all.length === 0);
      if (list.contains(document.activeElement) && list.querySelector('form')) return; // somebody is writing
      list.replaceChildren(...all.map(loaf));
    },
  };
}

// loafForm asks for stars, crumb, core, weight, a note and a photo; save returns whether it is kept.
function loafForm(app, b, save, cancel) {
  const note = h('textarea', { rows: 2, maxlength: 2000 });
  note.value = b?.note || '';
  const photo = h('input', { type: 'file', accept: 'image/*' });
  const stars = starField(b?.stars || 0);
  const more = loafFields(b);
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const button = h('button', { class: b ? 'strong' : null }, t('bake.keep'));

  async function submit(e) {
    e.preventDefault();
    say(fails, '');
    button.disabled = true;
    try {
      const body = { stars: stars.value(), ...more.value(), note: note.value.trim(), ...(photo.files[0] ? { photo: await shrink(photo.files[0]) } : {}) };
      if (await save(body) && !b) form.reset();
    } catch {
      say(fails, t('bake.bad_photo'));
    }
    button.disabled = false;
  }

  const form = h('form', { onsubmit: submit }, stars.el, more.el, field(t('bake.note'), note),
    field(b?.has_photo ? t('bake.other_photo') : t('bake.photo'), photo, t('bake.photo_hint')), fails,
    h('div', { class: 'row' }, button, cancel && h('button', { type: 'button', onclick: cancel }, t('common.cancel'))));
  return form;
}

let serial = 0;

function starField(given) {
  const name = `stars-${serial += 1}`;
  const inputs = [1, 2, 3, 4, 5].map((n) => h('input', { type: 'radio', name, value: n, 'aria-label': t('bake.stars_of', { n }) }));
  if (given) inputs[given - 1].checked = true;
  return {
    el: h('fieldset', { class: 'star-field' }, h('legend', {}, t('bake.stars')), inputs.map((i) => h('label', {}, i, h('span', { 'aria-hidden': 'true' }, i.value)))),
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
