// The plan that the baker goes by, with what is done of it.

import { h } from '../dom.js';
import { capital, message, stage, t } from '../text.js';
import { put } from '../api.js';
import { calendar, lines, said, strip } from './steps.js';

// currentPlan shows the chosen plan; again reads it from the daemon, drop ends it.
export function currentPlan(c, app, again, drop) {
  const done = async (s) => {
    if (!(await app.change(() => put('plan/done', { step: s.name }).then(() => true)))) return;
    app.announce(t('plan.step_done', { step: stage(s.name) }));
    await again();
  };
  return [
    h('h2', { tabindex: '-1' }, t('plan.current', { recipe: capital(c.ask.recipe), at: c.ask.ready })),
    c.trouble && h('p', { class: 'wrong', role: 'alert' }, message(c.trouble.say)),
    c.moved && h('p', { class: 'quiet' }, t('plan.moved', { at: c.moved })),
    strip(c.plan), lines(c.plan, done), said(c.plan),
    h('div', { class: 'row' }, h('a', { class: 'button', href: calendar(''), download: 'bread.ics' }, t('plan.calendar')),
      h('button', { type: 'button', onclick: drop }, t('plan.drop'))),
  ].filter(Boolean);
}
