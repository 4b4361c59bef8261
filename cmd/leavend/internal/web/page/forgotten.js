// A feed that was given earlier: asked when, and entered with that time.

import { ask, h } from './dom.js';
import { t } from './text.js';
import { field } from './parts.js';
import { atOf, localOf, moment, now } from './times.js';
import { post, vesselPath } from './api.js';

// forgotten asks when a vessel was fed and enters the feed. It resolves with
// the feed, or null where nothing was entered.
export async function forgotten(v, app) {
  const when = h('input', { type: 'datetime-local', required: true, max: localOf(now()), value: localOf(now() - 3600_000) });
  const title = t(v.kind === 'bowl' ? 'now.when_mixed' : 'now.when_fed');
  const form = h('form', { method: 'dialog' },
    h('h2', { id: 'forgotten-title' }, `${v.name}: ${title}`), field(t('common.when'), when),
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'save' }, t('common.save')), h('button', { value: '', formnovalidate: true }, t('common.cancel'))));
  if ((await ask(h('dialog', { 'aria-labelledby': 'forgotten-title' }, form))) !== 'save') return null;
  const at = atOf(when.value);
  if (at === null) return null;
  const made = await app.change(() => post(vesselPath(v.id, 'feeds'), { at: new Date(at).toISOString() }));
  if (made) app.announce(`${v.name}: ${moment(at)}. ${t('common.saved')}`);
  return made;
}
