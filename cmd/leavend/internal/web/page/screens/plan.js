// Plan a bake: the request on one side, what comes of it on the other.

import { h, say, set, show } from '../dom.js';
import { t } from '../text.js';
import { taste } from '../taste.js';
import { post, put, read, remove } from '../api.js';
import { readyBy } from '../readyby.js';
import { request } from '../planrequest.js';

const EVERY = 30_000; // how often the chosen plan is looked at again

export function open(root, app) {
  const chosen = h('section', { class: 'block bread', hidden: true });
  const waiting = h('p', { class: 'quiet waiting' }, t('plan.waiting'));
  const found = h('section', { class: 'block found', 'aria-live': 'polite' }, waiting);
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const form = request(search, everyWeek);
  const weekly = h('section', { class: 'block', hidden: true });
  const hours = readyBy(app, () => Boolean(going));
  const sides = h('div', { class: 'bake' }, chosen, h('div', { class: 'ask' }, form.el, fails), found, h('div', { class: 'also' }, weekly, hours.el));
  root.append(h('div', { class: 'sheet wide' }, h('h1', {}, t('plan.title')), h('p', {}, t('plan.lead')), sides));
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
      await drawWeekly(got.weekly);
      await draw(got.chosen);
    } catch (err) {
      say(fails, err.message);
    }
  }

  async function drawWeekly(loaf) {
    standing = loaf;
    const text = JSON.stringify(loaf);
    if (text === drawnWeekly) return;
    drawnWeekly = text;
    const parts = loaf ? (await app.rare('weekly')).weeklyLoaf(loaf, skip, endWeekly) : [];
    show(weekly, Boolean(loaf));
    weekly.replaceChildren(...parts);
  }

  async function draw(plan) {
    going = plan;
    const text = JSON.stringify([plan, taste]);
    if (text === drawn) return; // focus stays where it is
    drawn = text;
    const parts = plan ? (await app.rare('current')).currentPlan(plan, app, load, drop) : [];
    show(chosen, Boolean(plan));
    set(sides, 'data-going', Boolean(plan));
    show(waiting, !plan);
    chosen.replaceChildren(...parts);
  }

  async function search(asked) {
    say(fails, '');
    found.replaceChildren(h('p', { class: 'quiet' }, t('plan.searching')));
    try {
      const { answer } = await app.rare('answer');
      const sheet = await read(`plans?${new URLSearchParams(asked)}`);
      found.replaceChildren(...answer(sheet, choose, going, (ready) => search({ ...asked, ready })));
      found.firstChild.scrollIntoView({ block: 'nearest' });
    } catch (err) {
      found.replaceChildren();
      say(fails, err.message);
    }
  }

  async function choose(plan) {
    if (!(await app.change(() => put('plan', { id: plan.id }).then(() => true)))) return;
    app.announce(t('plan.taken'));
    found.replaceChildren(waiting);
    await load();
    chosen.querySelector('h2')?.focus();
    scrollTo(0, 0);
  }

  const drop = () => changed(() => remove('plan'), t('plan.dropped'));

  // everyWeek adds a day to the loaf of every week, if it is the same loaf.
  async function everyWeek(asked, name, at) {
    const same = standing && standing.at === at && standing.recipe === asked.recipe && standing.vessel === asked.vessel;
    const body = { days: [...new Set([...(same ? standing.days : []), name])], at, recipe: asked.recipe, vessel: asked.vessel, cooled: asked.cooled, by_hand: asked.by_hand, levain: asked.levain };
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
