// The discard jar: what went into it besides the feeds, and what was taken out.

import { h, say } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { moment } from './times.js';
import { gramsIn, weightSign } from './units.js';
import { post, remove, vesselPath } from './api.js';

export function discardJar(v, app, again) {
  const holds = h('p');
  const list = h('ul', { class: 'plain-list' });
  const amount = h('input', { type: 'number', inputmode: 'decimal', min: 0, max: 20000, step: 'any' });
  const wrong = h('p', { class: 'wrong', role: 'alert' });

  async function note(act) {
    const g = Math.round(gramsIn(Number(amount.value) || 0) * 100) / 100;
    const needs = act !== 'emptied' && g <= 0;
    say(wrong, needs ? t('discard.how_much') : '');
    if (needs) {
      amount.focus();
      return;
    }
    if (!(await app.change(() => post(vesselPath(v.id, 'discard'), { act, grams: act === 'emptied' ? 0 : g })))) return;
    amount.value = '';
    app.announce(t('common.saved'));
    again();
  }

  async function takeBack(m) {
    if (!(await app.change(() => remove(vesselPath(v.id, `discard/${encodeURIComponent(m.id)}`)).then(() => true)))) return;
    app.announce(t('common.removed'));
    again();
  }

  const line = (m) => h('li', { class: 'move' }, h('span', {}, t(`discard.says.${m.act}`, { grams: m.grams }), ' ', h('span', { class: 'age' }, moment(m.at))),
    h('button', { type: 'button', class: 'small', 'aria-label': t('discard.remove_of', { at: m.at }), onclick: () => takeBack(m) }, t('common.remove')));
  const button = (act) => h('button', { type: 'button', onclick: () => note(act) }, t(`discard.act.${act}`));

  return {
    el: h('section', { class: 'block' }, h('h2', {}, t('discard.title')), h('div', { class: 'pair' },
      h('div', {}, holds, field(t('discard.amount', { unit: weightSign() }), amount, t('discard.hint')), wrong, h('div', { class: 'row' }, button('used'), button('kept'), button('emptied'))),
      h('div', {}, list))),
    show(book, age) {
      say(holds, book.discard_g > 0 ? t(age === null ? 'discard.holds' : 'discard.holds_age', { grams: book.discard_g, age }) : t('discard.empty'));
      list.replaceChildren(...book.discard_moves.map(line));
    },
  };
}
