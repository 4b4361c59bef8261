// The form of one loaf: stars, crumb, core, weight, a note and a photo.

import { h, say } from '../dom.js';
import { t } from '../text.js';
import { field } from '../parts.js';
import { degreeSign, degreesIn, degreesOf, gramsIn, gramsOut, weightSign } from '../units.js';

const CRUMBS = ['even', 'open', 'tight', 'caves', 'gummy'];

// loafFields ask for crumb, core and weight.
function loafFields(b) {
  const boxes = CRUMBS.map((c) => h('input', { type: 'checkbox', value: c, checked: b?.crumb?.includes(c) || null }));
  const core = h('input', { type: 'number', inputmode: 'decimal', step: 'any', value: b?.core_c ? Math.round(10 * degreesOf(b.core_c)) / 10 : '' });
  const weight = h('input', { type: 'number', inputmode: 'decimal', min: 0, step: 'any', value: b?.weight_g ? gramsOut(b.weight_g) : '' });
  return {
    el: [
      h('fieldset', { class: 'ticks' }, h('legend', {}, t('bake.crumb')), boxes.map((i) => h('label', { class: 'tick' }, i, t(`bake.crumbs.${i.value}`)))),
      h('div', { class: 'row' }, field(t('bake.core', { unit: degreeSign() }), core, t('bake.core_hint')), field(t('bake.weight', { unit: weightSign() }), weight)),
    ],
    value: () => ({
      crumb: boxes.filter((i) => i.checked).map((i) => i.value),
      core_c: core.value ? degreesIn(Number(core.value)) : 0,
      weight_g: weight.value ? gramsIn(Number(weight.value)) : 0,
    }),
  };
}

// loafForm asks for stars, crumb, core, weight, a note and a photo; save returns whether it is kept.
export function loafForm(b, save, cancel) {
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
