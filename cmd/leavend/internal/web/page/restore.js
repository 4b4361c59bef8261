// Going back to the last backup, offered while the history is damaged. The
// daemon starts again, so the page may be gone for a few seconds.

import { h } from './dom.js';
import { t } from './text.js';
import { post } from './api.js';

export function restorePart(app, offer) {
  if (!offer) return null;
  const done = h('p', { class: 'note', role: 'status', hidden: true }, t('restore.begun'));
  const go = h('button', { type: 'button', class: 'strong', onclick: async () => {
    go.disabled = true;
    const begun = await app.change(() => post('restore').then(() => true));
    done.hidden = !begun;
    go.disabled = Boolean(begun);
  } }, t('restore.button', { made: offer.made }));
  return h('div', { class: 'note' }, h('p', {}, t('restore.text', { made: offer.made })), h('div', { class: 'row' }, go), done);
}
