// What a person reads and accepts before a mat heats for the first time, in the
// words of his language.

import { ask, h } from '../dom.js';
import { message, t } from '../text.js';

// cautions are the list, and the tick below it.
export function cautions(of, tick) {
  return [
    h('ul', { class: 'cautions' }, of.cautions_say.map((c) => h('li', {}, message(c)))),
    h('label', { class: 'tick' }, tick, t('caution.accept')),
  ];
}

// accepted asks in a dialog.
export async function accepted(m) {
  const box = h('input', { type: 'checkbox', required: true });
  const form = h('form', { method: 'dialog' },
    h('h2', { id: 'cautions-title' }, t('caution.title')), h('p', {}, t('caution.text')), ...cautions(m, box),
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'accept' }, t('mat.switch_on')), h('button', { value: '', formnovalidate: true }, t('common.cancel'))));
  return (await ask(h('dialog', { 'aria-labelledby': 'cautions-title' }, form))) === 'accept' && box.checked;
}
