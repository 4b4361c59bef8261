// The form of one feed: when, what went in, and what that comes to.

import { h, say } from '../dom.js';
import { t } from '../text.js';
import { field } from '../parts.js';
import { flourInput, flourKind } from '../flours.js';
import { flourOf, number, round } from '../mix.js';
import { atOf, localOf, now } from '../times.js';
import { degreesIn, degreesOf, degreeSign, gramsIn, gramsOut, plain, weightSign } from '../units.js';
import { read, vesselPath } from '../api.js';

// feedForm takes the amounts and shows what they come to while they are typed.
export function feedForm(f, v, app, { jars, save, cancel, takeAway }) {
  const when = h('input', { type: 'datetime-local', required: true, max: localOf(now()) });
  when.value = localOf(f.at);
  const kept = number(gramsOut(f.kept_g), 20000);
  const water = number(gramsOut(f.water_g), 20000);
  const discard = number(gramsOut(f.discard_g), 20000);
  const warm = number(f.water_temp_c === undefined ? '' : Math.round(degreesOf(f.water_temp_c)), 212);
  const clean = h('input', { type: 'checkbox' });
  clean.checked = f.clean_jar;
  // A levain is built from the starter of another jar.
  const from = h('select', {}, h('option', { value: '' }, t('feed_form.from_own')), ...jars.map((j) => h('option', { value: j.id, selected: j.id === f.from }, j.name)));
  const note = h('textarea', { rows: 2, maxlength: 2000 });
  note.value = f.note || '';
  const flours = h('div', { class: 'flours' });
  const sum = h('p', { class: 'sum', role: 'status' });
  const unit = weightSign();
  const addFlour = (x) => {
    const kind = flourInput(x.kind);
    const amount = number(gramsOut(x.grams), 20000);
    flours.append(h('div', { class: 'flour' }, field(t('feed_form.flour'), kind), field(t('feed_form.flour_weight', { unit }), amount)));
  };
  (f.flours.length ? f.flours : [{ kind: '', grams: 0 }]).forEach(addFlour);
  const flourRows = () => [...flours.children].map((row) => {
    const [kind, amount] = row.querySelectorAll('input');
    return { kind: flourKind(kind.value), grams: round(gramsIn(Number(amount.value) || 0)) };
  }).filter((x) => x.grams > 0);
  const body = () => ({
    at: when.value === localOf(f.at) ? f.at : new Date(atOf(when.value)).toISOString(), kept_g: round(gramsIn(Number(kept.value) || 0)), flours: flourRows(), water_g: round(gramsIn(Number(water.value) || 0)),
    discard_g: round(gramsIn(Number(discard.value) || 0)), clean_jar: clean.checked, note: note.value.trim(), ...(from.value && { from: from.value }),
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
    say(sum, flour && b.kept_g ? t('feed_form.sum', { ratio: `1 : ${plain(flour / b.kept_g, 1)} : ${plain(b.water_g / b.kept_g, 1)}`, hydration: Math.round(100 * wet / dry), inoculation: Math.round(100 * b.kept_g / flour), total: b.kept_g + flour + b.water_g }) : '');
  }
  const form = h('form', { class: 'feed-form', oninput: total, onsubmit: (e) => { e.preventDefault(); save(body()); } },
    h('h4', {}, t(`feed_form.title.${v.kind}`, { at: f.at })),
    h('div', { class: 'two' }, field(t('feed_form.kept', { unit }), kept), field(t('feed_form.water', { unit }), water)),
    flours,
    h('button', { type: 'button', class: 'small', onclick: () => addFlour({ kind: '', grams: 0 }) }, t('feed_form.another_flour')),
    h('div', { class: 'two' }, field(t('feed_form.discard', { unit }), discard), field(t('feed_form.water_temperature', { unit: degreeSign() }), warm)),
    jars.length > 0 && field(t('feed_form.from'), from),
    h('label', { class: 'tick' }, clean, t('feed_form.clean')),
    field(t('feed_form.note'), note), field(t('common.when'), when), sum,
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('common.save')), h('button', { type: 'button', onclick: suggest }, t('feed_form.same_as_last')),
      h('button', { type: 'button', onclick: cancel }, t('common.cancel')), h('button', { type: 'button', class: 'danger', 'aria-label': t('feeds.remove_of', { at: f.at }), onclick: takeAway }, t('common.remove'))));
  total();
  return form;
}
