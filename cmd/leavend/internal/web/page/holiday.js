// The holiday: until a day there are no reminders.

import { h, show } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { put, read } from './api.js';

export function holidayPart(app) {
  const day = h('input', { type: 'date', required: true });
  const ask = h('form', { onsubmit: (e) => { e.preventDefault(); set(day.value); } },
    h('p', {}, t('holiday.lead')), field(t('holiday.back'), day, t('holiday.before')), h('div', { class: 'row' }, h('button', {}, t('holiday.begin'))));
  const until = h('p');
  const away = h('div', { hidden: true }, until, h('div', { class: 'row' }, h('button', { type: 'button', onclick: () => set('') }, t('holiday.end'))));

  function draw(back) {
    show(ask, !back);
    show(away, !!back);
    if (back) until.textContent = t('holiday.until', { back: `${back}T12:00:00Z` });
  }

  async function set(back) {
    if (!(await app.change(() => put('holiday', { back }).then(() => true)))) return;
    draw(back);
    app.announce(t('common.saved'));
  }

  read('holiday').then((got) => draw(got.back), () => {});
  return h('section', { class: 'block' }, h('h2', {}, t('holiday.title')), ask, away);
}
