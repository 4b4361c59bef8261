// Away from a day until another: nothing is planned then, and no reminder goes out.

import { h, say, show } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { localOf, now } from './times.js';
import { put, read } from './api.js';

export function holidayPart(app) {
  const today = () => localOf(now()).slice(0, 10);
  const from = h('input', { type: 'date', required: true });
  const back = h('input', { type: 'date', required: true });
  from.value = today();
  from.addEventListener('input', () => { back.min = from.value; });
  const ask = h('form', { onsubmit: (e) => { e.preventDefault(); save({ from: from.value, back: back.value }); } },
    h('p', {}, t('holiday.lead')), h('div', { class: 'two' }, field(t('holiday.from'), from), field(t('holiday.back'), back)), h('p', { class: 'hint' }, t('holiday.before')), h('div', { class: 'row' }, h('button', {}, t('holiday.begin'))));
  const until = h('p');
  const away = h('div', { hidden: true }, until, h('div', { class: 'row' }, h('button', { type: 'button', onclick: () => save({ back: '' }) }, t('holiday.end'))));

  function draw(got) {
    show(ask, !got.own);
    show(away, Boolean(got.back));
    if (got.back) say(until, t('holiday.until', { from: `${got.from}T12:00:00Z`, back: `${got.back}T12:00:00Z` }));
  }

  async function save(days) {
    if (!(await app.change(() => put('holiday', days).then(() => true)))) return;
    draw(await read('holiday'));
    app.announce(t('common.saved'));
  }

  read('holiday').then(draw, () => {});
  return h('section', { class: 'block' }, h('h2', {}, t('holiday.title')), ask, away);
}
