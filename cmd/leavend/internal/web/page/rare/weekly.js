// The loaf of every week.

import { h } from '../dom.js';
import { t } from '../text.js';
import { clockText, now } from '../times.js';

// weeklyLoaf says when it comes, and offers to leave one out.
export function weeklyLoaf(w, skip, end) {
  const names = w.days.map((d) => t(`plan.weekday.${d}`)).join(t('plan.and'));
  return [
    h('h2', {}, t('plan.weekly', { days: names, at: clockText(w.at), recipe: w.recipe })),
    h('p', {}, t('plan.weekly_hint'), w.next ? ` ${t('plan.weekly_next', { at: w.next })}` : ''),
    w.skipped && Date.parse(w.skipped) > now() && h('p', { class: 'note' }, t('plan.weekly_skipped', { at: w.skipped })),
    h('div', { class: 'row' }, h('button', { type: 'button', onclick: skip }, t('plan.skip')), h('button', { type: 'button', onclick: end }, t('plan.stop_repeating'))),
  ].filter(Boolean);
}
