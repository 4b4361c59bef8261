// The discard jar: what went into it besides the feeds, and what was taken out.

import { h, say } from './dom.js';
import { words } from './words.js';
import { field } from './parts.js';
import { grams, gramsIn, moment, weightSign } from './units.js';
import { post, remove, vesselPath } from './api.js';

export function discardJar(v, app, again) {
  const holds = h('p');
  const list = h('ul', { class: 'plain-list' });
  const amount = h('input', { type: 'number', inputmode: 'decimal', min: 0, max: 20000, step: 'any' });
  const wrong = h('p', { class: 'wrong', role: 'alert' });

  async function note(act) {
    const g = Math.round(gramsIn(Number(amount.value) || 0) * 100) / 100;
    const needs = act !== 'emptied' && g <= 0;
    say(wrong, needs ? words.discard.howMuch : '');
    if (needs) {
      amount.focus();
      return;
    }
    if (!(await app.change(() => post(vesselPath(v.id, 'discard'), { act, grams: act === 'emptied' ? 0 : g })))) return;
    amount.value = '';
    app.announce(words.kept);
    again();
  }

  async function takeBack(m) {
    if (!(await app.change(() => remove(vesselPath(v.id, `discard/${encodeURIComponent(m.id)}`)).then(() => true)))) return;
    app.announce(words.undone);
    again();
  }

  const line = (m) => h('li', { class: 'move' }, h('span', {}, words.discard.says(m.act, grams(m.grams)), ' ', h('span', { class: 'age' }, moment(m.at))),
    h('button', { type: 'button', class: 'small', 'aria-label': words.discard.takeBackOf(moment(m.at)), onclick: () => takeBack(m) }, words.bake.takeBack));
  const button = (act) => h('button', { type: 'button', onclick: () => note(act) }, words.discard.act[act]);

  return {
    el: h('section', { class: 'block' }, h('h2', {}, words.discard.title), h('div', { class: 'pair' },
      h('div', {}, holds, field(words.discard.amount(weightSign()), amount, words.discard.hint), wrong, h('div', { class: 'row' }, button('used'), button('kept'), button('emptied'))),
      h('div', {}, list))),
    show(book, age) {
      say(holds, book.discard_g > 0 ? words.discardJar(grams(book.discard_g), age) : words.discard.empty);
      list.replaceChildren(...book.discard_moves.map(line));
    },
  };
}
