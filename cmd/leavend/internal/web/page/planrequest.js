// The request for a loaf: by when, of which recipe, from which starter. The
// days and hours in it are the kitchen's.

import { h, show } from './dom.js';
import { capital, t } from './text.js';
import { field } from './parts.js';
import { day, dayKey, nextAt, now, weekday } from './times.js';

const AHEAD = 8; // days that may be chosen

const options = (list) => list.map(([value, text]) => h('option', { value }, text));

// tick is a box to tick with its text.
function tick(id, text, checked = false) {
  const input = h('input', { type: 'checkbox', id, checked });
  return { input, el: h('label', { class: 'tick', for: id }, input, text) };
}

// request is the form; ask gets what was asked, everyWeek that and the day and hour.
export function request(ask, everyWeek) {
  const days = dayChoice();
  const hour = h('input', { type: 'time', required: true });
  hour.value = '07:30';
  const recipe = h('select', {});
  const jar = h('select', {});
  const jarField = field(t('plan.jar'), jar);
  const levain = h('select', {});
  const fridge = tick('plan-fridge', t('plan.fridge'));
  const cooled = tick('plan-cooled', t('plan.cooled'));
  const mat = tick('plan-mat', t('plan.mat'), true);
  let jars = [];
  const asked = () => ({ recipe: recipe.value, vessel: jar.value, fridge: fridge.input.checked, cooled: cooled.input.checked, by_hand: !mat.input.checked, levain: levain.value });
  const el = h('form', { class: 'block', onsubmit: send },
    h('div', { class: 'two' }, field(t('plan.day'), days.el), field(t('plan.hour'), hour)),
    h('div', { class: 'two' }, field(t('plan.recipe'), recipe), jarField),
    h('p', { class: 'hint' }, h('a', { href: '#/recipes' }, t('plan.recipes_link'))),
    mat.el,
    h('details', {}, h('summary', {}, t('plan.more')), field(t('plan.levain'), levain), fridge.el, cooled.el),
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('plan.find')), h('button', { type: 'button', onclick: weekly }, t('plan.every_week'))));

  function weekly() {
    if (el.reportValidity()) everyWeek(asked(), weekday(days.midnight() + 432e5), hour.value);
  }

  function send(e) {
    e.preventDefault();
    const at = nextAt(hour.value, days.midnight() - 6e4);
    if (at !== null) ask({ ready: new Date(at).toISOString(), ...asked() });
  }

  // levains lists the jars beside that of the starter.
  function levains() {
    levain.replaceChildren(...options([['', t('plan.levain_none')], ...jars.filter((v) => v.id !== jar.value).map((v) => [v.id, t('plan.levain_in', { name: v.name })]), ['-', t('plan.levain_other')]]));
  }
  jar.addEventListener('change', levains);
  return {
    el,
    fill: days.fill,
    recipes(names) {
      if ([...recipe.options].map((o) => o.value).join() !== names.join()) recipe.replaceChildren(...options(names.map((n) => [n, capital(n)])));
    },
    jars(list) {
      jars = list;
      jar.replaceChildren(...options(list.map((v) => [v.id, v.name])));
      levains();
      show(jarField, list.length > 1);
    },
    mat: (there) => show(mat.el, there),
  };
}

// dayChoice offers the days to come. It lists them again once a day, and once
// the kitchen's clock is known.
function dayChoice() {
  const el = h('select', {});
  let today = null;
  return {
    el,
    midnight: () => Number(el.value),
    fill() {
      const key = dayKey(now());
      if (key === today) return;
      const index = today === null ? 1 : Math.max(0, el.selectedIndex);
      today = key;
      el.replaceChildren(...Array.from({ length: AHEAD }, (_, i) => {
        const midnight = nextAt('00:00', now() + (i - 1) * 864e5);
        return h('option', { value: midnight, selected: i === index }, day(midnight + 432e5));
      }));
    },
  };
}
