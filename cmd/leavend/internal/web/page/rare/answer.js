// What comes of a request: the plans to choose from, or what stands in the way.

import { h } from '../dom.js';
import { capital, message, t } from '../text.js';
import { calendar, lines, said, spans, strip } from './steps.js';

// answer is what came of the request; choose takes a plan, askFor asks for
// another moment, going is the plan that is gone by already.
export function answer(sheet, choose, going, askFor) {
  return [
    h('h2', {}, t('plan.answer', { recipe: capital(sheet.ask.recipe), at: sheet.ask.ready })),
    sheet.no_plan && h('p', { class: 'note' }, message(sheet.no_plan.say)),
    sheet.earliest && h('p', { class: 'earliest' }, t('plan.earliest', { at: sheet.earliest }), ' ',
      h('button', { type: 'button', class: 'small', onclick: () => askFor(sheet.earliest) }, t('plan.ask_earliest'))),
    going && sheet.plans.length > 0 && h('p', { class: 'note' }, t('plan.replaces', { recipe: capital(going.ask.recipe), at: going.ask.ready })),
    ...sheet.doubts.map((d) => h('p', { class: 'note' }, message(d.say))),
    h('div', { class: 'plans' }, sheet.plans.map((p, i) => offered(p, i, choose))),
    h('p', { class: 'hint' }, message(sheet.grounds.say), sheet.invented && ` ${t('plan.invented')}`),
  ].filter(Boolean);
}

// offered is one plan to choose.
function offered(p, i, choose) {
  const grade = p.score >= 85 ? 'sound' : p.score >= 60 ? 'tight' : 'risky';
  const n = i + 1;
  return h('article', { class: 'bread', 'data-grade': grade, 'aria-labelledby': `plan-${i}` },
    h('h3', { id: `plan-${i}` }, t('plan.numbered', { n }), ' ', h('span', { class: 'tag' }, t(`plan.grade.${grade}`))),
    h('p', { class: 'quiet' }, spans(p)),
    strip(p), lines(p, null), said(p),
    h('div', { class: 'row' }, h('button', { type: 'button', class: i === 0 ? 'strong' : null, 'aria-label': t('plan.choose_of', { n }), onclick: () => choose(p) }, t('plan.choose')),
      h('a', { class: 'button', href: calendar(p.id), download: 'bread.ics', 'aria-label': t('plan.calendar_of', { n }) }, t('plan.calendar'))));
}
