// Bread by the hour: ask for a loaf, see the ways to it, go by one of them.

import { h, say, show } from '../dom.js';
import { language, message, stage, t } from '../text.js';
import { field } from '../parts.js';
import { taste } from '../taste.js';
import { clock, clockText, day, dayKey, nextAt, now, weekday } from '../times.js';
import { post, put, read, remove } from '../api.js';
import { readyBy } from '../readyby.js';

const AHEAD = 8; // days that may be chosen
const EVERY = 30_000; // how often the chosen plan is looked at again

export function open(root, app) {
  const chosen = h('section', { class: 'block', hidden: true });
  const found = h('section', { class: 'block', 'aria-live': 'polite' });
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const form = question(search, everyWeek);
  const weekly = h('section', { class: 'block', hidden: true });
  const hours = readyBy(app, () => Boolean(going));
  root.append(h('div', { class: 'sheet' }, h('h1', {}, t('plan.title')), h('p', {}, t('plan.lead')), chosen, weekly, form.el, fails, found, hours.el));
  const timer = setInterval(load, EVERY);
  let built = false;
  let drawn = '';
  let drawnWeekly = '';
  let standing = null; // the loaf of every week
  let going = null; // the plan that is gone by
  load();

  async function load() {
    try {
      const got = await read('plan');
      form.recipes(got.recipes);
      standing = got.weekly;
      going = got.chosen;
      if (JSON.stringify(standing) !== drawnWeekly) {
        drawnWeekly = JSON.stringify(standing);
        show(weekly, Boolean(standing));
        weekly.replaceChildren(...(standing ? ofEveryWeek(standing, skip, endWeekly) : []));
      }
      const text = JSON.stringify([got.chosen, taste]);
      if (text === drawn) return; // focus stays where it is
      drawn = text;
      show(chosen, Boolean(got.chosen));
      chosen.replaceChildren(...(got.chosen ? goingBy(got.chosen, app, load, drop) : []));
    } catch (err) {
      say(fails, err.message);
    }
  }

  async function search(asked) {
    say(fails, '');
    try {
      const sheet = await read(`plans?${new URLSearchParams(asked)}`);
      found.replaceChildren(...answer(sheet, choose, going));
    } catch (err) {
      found.replaceChildren();
      say(fails, err.message);
    }
  }

  async function choose(plan) {
    if (!(await app.change(() => put('plan', { id: plan.id }).then(() => true)))) return;
    app.announce(t('plan.taken'));
    found.replaceChildren();
    await load();
    chosen.querySelector('h2')?.focus();
    scrollTo(0, 0);
  }

  async function drop() {
    if (!(await app.change(() => remove('plan').then(() => true)))) return;
    app.announce(t('plan.dropped'));
    await load();
  }

  // everyWeek adds a day to the loaf of every week, if it is the same loaf.
  async function everyWeek(asked, name, at) {
    const same = standing && standing.at === at && standing.recipe === asked.recipe && standing.vessel === asked.vessel;
    const body = { days: [...new Set([...(same ? standing.days : []), name])], at, recipe: asked.recipe, vessel: asked.vessel, cooled: asked.cooled, by_hand: asked.by_hand };
    await changed(() => put('plan/weekly', body), t('plan.weekly_taken'));
  }
  const skip = () => changed(() => post('plan/weekly/skip', {}), t('plan.skipped'));
  const endWeekly = () => changed(() => remove('plan/weekly'), t('plan.weekly_ended'));
  async function changed(act, said) {
    if (!(await app.change(() => act().then(() => true)))) return;
    app.announce(said);
    await load();
  }

  return {
    show(kitchen) {
      form.fill();
      hours.show(kitchen);
      if (built) return;
      built = true;
      form.jars(kitchen.vessels.filter((v) => v.kind === 'jar'));
      form.mat(kitchen.vessels.some((v) => v.mat));
    },
    close() { clearInterval(timer); },
  };
}

// question is the form. The days and hours in it are the kitchen's.
function question(ask, everyWeek) {
  const days = h('select', {});
  const hour = h('input', { type: 'time', required: true });
  hour.value = '07:30';
  const recipe = h('select', {});
  const jar = h('select', {});
  const jarField = field(t('plan.jar'), jar);
  const levain = h('select', {});
  let jars = [];
  const fridge = h('input', { type: 'checkbox', id: 'plan-fridge' });
  const cooled = h('input', { type: 'checkbox', id: 'plan-cooled' });
  const mat = h('input', { type: 'checkbox', id: 'plan-mat', checked: true });
  const tick = (input, text) => h('label', { class: 'tick', for: input.id }, input, text);
  const matTick = tick(mat, t('plan.mat'));
  const el = h('form', { class: 'block bread-ask', onsubmit: send },
    h('h2', {}, t('plan.ask')),
    h('div', { class: 'two' }, field(t('plan.day'), days), field(t('plan.hour'), hour)),
    field(t('plan.recipe'), recipe), jarField, field(t('plan.levain'), levain), tick(fridge, t('plan.fridge')), tick(cooled, t('plan.cooled')), matTick,
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('plan.find')), h('button', { type: 'button', onclick: weekly }, t('plan.every_week'))));
  let today = null;

  // fill lists the days again once a day, and once the kitchen's clock is known.
  function fill() {
    const key = dayKey(now());
    if (key === today) return;
    const index = today === null ? 1 : Math.max(0, days.selectedIndex);
    today = key;
    days.replaceChildren(...Array.from({ length: AHEAD }, (_, i) => {
      const midnight = nextAt('00:00', now() + (i - 1) * 864e5);
      return h('option', { value: midnight, selected: i === index }, day(midnight + 432e5));
    }));
  }

  const asked = () => ({ recipe: recipe.value, vessel: jar.value, fridge: fridge.checked, cooled: cooled.checked, by_hand: !mat.checked, levain: levain.value });

  function weekly() {
    if (el.reportValidity()) everyWeek(asked(), weekday(Number(days.value) + 432e5), hour.value);
  }

  function send(e) {
    e.preventDefault();
    const at = nextAt(hour.value, Number(days.value) - 6e4);
    if (at === null) return;
    ask({ ready: new Date(at).toISOString(), ...asked() });
  }

  const options = (select, list) => {
    if (select.children.length !== list.length) select.replaceChildren(...list.map(([value, text]) => h('option', { value }, text)));
  };
  // levains lists the jars beside that of the starter.
  function levains() {
    levain.replaceChildren(...[['', t('plan.levain_none')], ...jars.filter((v) => v.id !== jar.value).map((v) => [v.id, t('plan.levain_in', { name: v.name })]), ['-', t('plan.levain_other')]].map(([value, text]) => h('option', { value }, text)));
  }
  jar.addEventListener('change', levains);
  return {
    el,
    fill,
    recipes: (names) => options(recipe, names.map((n) => [n, n])),
    jars(list) {
      jars = list;
      options(jar, list.map((v) => [v.id, v.name]));
      levains();
      show(jarField, list.length > 1);
    },
    mat: (there) => show(matTick, there),
  };
}

// answer is what came of the question.
function answer(sheet, choose, going) {
  return [
    h('h2', {}, t('plan.answer', { recipe: sheet.ask.recipe, at: sheet.ask.ready })),
    h('p', {}, message(sheet.grounds.say)),
    sheet.invented && h('p', { class: 'quiet' }, t('plan.invented')),
    ...sheet.doubts.map((d) => h('p', { class: 'note' }, message(d.say))),
    sheet.no_plan && h('p', { class: 'note' }, message(sheet.no_plan.say)),
    sheet.earliest && h('p', {}, t('plan.earliest', { at: sheet.earliest })),
    going && sheet.plans.length > 0 && h('p', { class: 'note' }, t('plan.replaces', { recipe: going.ask.recipe, at: going.ask.ready })),
    ...sheet.plans.map((p, i) => h('article', { class: 'bread', 'data-grade': grade(p.score), 'aria-labelledby': `plan-${i}` },
      h('h3', { id: `plan-${i}` }, t('plan.numbered', { n: i + 1 }), ' ', h('span', { class: 'tag' }, t(`plan.grade.${grade(p.score)}`))),
      strip(p), lines(p, null), said(p),
      h('div', { class: 'row' }, h('button', { type: 'button', class: 'strong', 'aria-label': t('plan.choose_of', { n: i + 1 }), onclick: () => choose(p) }, t('plan.choose')),
        h('a', { class: 'button', href: calendar(p.id), download: 'bread.ics', 'aria-label': t('plan.calendar_of', { n: i + 1 }) }, t('plan.calendar'))))),
  ].filter(Boolean);
}

// ofEveryWeek is the loaf of every week.
function ofEveryWeek(w, skip, end) {
  const names = w.days.map((d) => t(`plan.weekday.${d}`)).join(t('plan.and'));
  return [
    h('h2', {}, t('plan.weekly', { days: names, at: clockText(w.at), recipe: w.recipe })),
    h('p', {}, t('plan.weekly_hint'), w.next ? ` ${t('plan.weekly_next', { at: w.next })}` : ''),
    w.skipped && Date.parse(w.skipped) > now() && h('p', { class: 'note' }, t('plan.weekly_skipped', { at: w.skipped })),
    h('div', { class: 'row' }, h('button', { type: 'button', onclick: skip }, t('plan.skip')), h('button', { type: 'button', onclick: end }, t('plan.stop_repeating'))),
  ].filter(Boolean);
}

// goingBy is the chosen plan, with what is done of it.
function goingBy(c, app, again, drop) {
  const done = async (s) => {
    if (!(await app.change(() => put('plan/done', { step: s.name }).then(() => true)))) return;
    app.announce(t('plan.step_done', { step: stage(s.name) }));
    await again();
  };
  return [
    h('h2', { tabindex: '-1' }, t('plan.current', { recipe: c.ask.recipe, at: c.ask.ready })),
    c.trouble && h('p', { class: 'wrong', role: 'alert' }, message(c.trouble.say)),
    c.moved && h('p', { class: 'quiet' }, t('plan.moved', { at: c.moved })),
    strip(c.plan), lines(c.plan, done), said(c.plan),
    h('div', { class: 'row' }, h('a', { class: 'button', href: calendar(''), download: 'bread.ics' }, t('plan.calendar')),
      h('button', { type: 'button', onclick: drop }, t('plan.drop'))),
  ].filter(Boolean);
}

// grade says how far a plan can be relied on.
const grade = (score) => (score >= 85 ? 'sound' : score >= 60 ? 'tight' : 'risky');

// calendar is the address of a plan as a calendar; the chosen one's without an id.
const calendar = (id) => `api/plan/calendar?${new URLSearchParams({ id, units: taste.temperature === 'f' ? 'us' : 'metric', clock: taste.clock, language: language.code })}`;

// lines is the plan line by line; only the next step can be noted as done.
function lines(plan, done) {
  const next = plan.steps.find((s) => s.kind === 'do' && !s.done);
  let last = '';
  return h('ol', { class: 'bread-lines' }, plan.steps.flatMap((s) => {
    const key = dayKey(s.at);
    const head = key === last ? null : h('li', { class: 'bread-day' }, h('strong', {}, day(s.at)));
    last = key;
    return [head, h('li', { 'data-kind': s.kind, 'data-done': s.done ? 'true' : null },
      h('time', { class: 'bread-clock', datetime: s.at }, clock(s.at)),
      h('div', {}, h('p', {}, message(s.say)), s.done ? h('p', { class: 'hint' }, t('plan.done')) : s.earliest !== s.latest && h('p', { class: 'hint' }, t(s.kind === 'top' || s.kind === 'peak' ? 'plan.window.peak' : 'plan.window.step', { low: s.earliest, high: s.latest })),
        done && s === next && h('button', { type: 'button', class: 'small', 'aria-label': t('plan.done_label', { step: stage(s.name) }), onclick: () => done(s) }, t('plan.done_button'))))].filter(Boolean);
  }));
}

// said is what may go wrong and why the plan is as it is.
function said(plan) {
  return h('details', {}, h('summary', {}, t('plan.risks')), h('ul', {}, plan.risks.map((r) => h('li', {}, message(r.say)))),
    plan.why.length > 0 && h('p', {}, h('strong', {}, t('plan.why'))), plan.why.length > 0 && h('ul', {}, plan.why.map((r) => h('li', {}, message(r.say)))));
}

// strip is the plan as a stretch of time. What it shows is said in the lines.
function strip(plan) {
  const steps = plan.steps.filter((s) => s.kind !== 'top');
  const from = Date.parse(steps[0].at);
  const whole = Math.max(1, Date.parse(steps.at(-1).at) - from);
  const share = (a, b) => `${((b - a) / whole * 100).toFixed(2)}%`;
  const bar = h('div', { class: 'bread-strip', 'aria-hidden': 'true' });
  steps.slice(0, -1).forEach((s, i) => {
    const [a, b, c] = [Date.parse(s.at), Date.parse(s.until), Date.parse(steps[i + 1].at)];
    for (const [kind, start, end] of [['hands', a, Math.min(b, c)], [s.fridge ? 'cold' : s.mat ? 'mat' : 'room', Math.min(b, c), c]]) {
      const part = h('span', { 'data-kind': kind });
      part.style.width = share(start, end);
      bar.append(part);
    }
  });
  return bar;
}
