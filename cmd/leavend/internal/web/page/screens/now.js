// What each vessel does at this moment, the one thing to do, and its button.
// What is said of a vessel comes from the daemon.

import { h, keep, say, set, show } from '../dom.js';
import { capital, message, stage as stageName, t } from '../text.js';
import { drawVessel } from '../vessel.js';
import { forgotten } from '../forgotten.js';
import { nothingYet } from '../parts.js';
import { factList } from '../facts.js';
import { chillAct, coldDough, foldAct, mainAct, seenAct } from '../acts.js';
import { moment } from '../times.js';
import { sentence } from '../units.js';
import { put } from '../api.js';

export function open(root, app) {
  const next = nextStep(app);
  const shelf = h('div', { class: 'shelf' });
  const nothing = nothingYet();
  root.append(h('h1', { class: 'unseen' }, t('screen.now')), next.el, shelf, nothing);
  return {
    show(kitchen) {
      show(nothing, kitchen.vessels.length === 0);
      set(shelf, 'data-many', kitchen.vessels.length);
      next.update(kitchen.next_step);
      keep(shelf, kitchen.vessels, (v) => v.id, (v) => place(v, app), (el, v) => el.update(v, kitchen));
    },
    close() {},
  };
}

// nextStep is the next thing to do for the bake, with its button.
function nextStep(app) {
  const what = h('p', { class: 'next-what' });
  const when = h('strong');
  const done = h('button', { type: 'button', class: 'strong', onclick: finish }, t('now.step_done'));
  const el = h('aside', { class: 'next', hidden: true, 'aria-label': t('now.next_step') },
    h('div', {}, h('p', { class: 'quiet' }, t('now.next_step'), ' · ', when), what),
    h('div', { class: 'row' }, done, h('a', { class: 'button', href: '#/plan' }, t('now.see_plan'))));
  let step = null;
  async function finish() {
    if (await app.change(() => put('plan/done', { step: step.name }).then(() => true))) app.announce(t('plan.step_done', { step: what.textContent }));
  }
  return {
    el,
    update(s) {
      step = s;
      show(el, Boolean(s));
      if (!s) return;
      say(when, moment(s.at));
      say(what, message(s.say, capital(stageName(s.name))));
      set(done, 'aria-label', t('now.step_done_label', { step: what.textContent }));
    },
  };
}

// place is one vessel on the shelf.
function place(first, app) {
  const id = `v-${first.id}`;
  const picture = drawVessel(first.kind);
  const name = h('h2', { id }, first.name);
  const stage = h('p', { class: 'stage' });
  const head = outlook();
  const facts = factList(first.kind === 'bowl');
  const act = mainAct(first, app);
  const aside = first.kind === 'bowl' ? [foldAct(first, app), coldDough(first, app)] : [chillAct(first, app)];
  const seen = seenAct(app);
  const advice = h('p', { class: 'advice' });
  const note = h('p', { class: 'note' });
  const earlier = h('button', { type: 'button', class: 'small plain', 'aria-label': `${t(first.kind === 'bowl' ? 'now.mixed_earlier' : 'now.fed_earlier')} ${first.name}`, onclick: () => forgotten(first, app) }, t(first.kind === 'bowl' ? 'now.mixed_earlier' : 'now.fed_earlier'));
  const el = h('article', { class: 'place', 'aria-labelledby': id },
    h('header', {}, name, stage),
    h('div', { class: 'stand' }, h('a', { class: 'picture', href: `#/curve/${first.id}`, 'aria-label': t('now.curve_of', { name: first.name }) }, picture), head.el),
    h('div', { class: 'board', 'aria-hidden': 'true' }),
    h('div', {}, advice, note, facts.el), h('div', { class: 'act' }, act.el, seen.el), h('div', { class: 'aside' }, aside.map((a) => a.el), earlier));
  el.update = (v, kitchen) => {
    say(name, v.name);
    set(el, 'data-face', v.says.face);
    say(stage, message(v.says.stage));
    picture.update(v);
    head.update(v.says);
    say(advice, message(v.says.do));
    show(advice, Boolean(v.says.do));
    say(note, message(v.note_say, sentence(v.note)));
    show(note, Boolean(v.note || v.note_say));
    facts.update(v, kitchen.mats.find((m) => m.id === v.mat));
    act.update(v, kitchen);
    seen.update(kitchen.asks.find((a) => a.vessel === v.id));
    for (const a of aside) a.update(v);
  };
  return el;
}

// outlook is the one hour that matters, as large as it deserves.
function outlook() {
  const label = h('p', { class: 'outlook-label' });
  const big = h('p', { class: 'outlook-time' });
  const range = h('p', { class: 'outlook-range' });
  const wait = h('p', { class: 'outlook-wait' });
  return {
    el: h('div', { class: 'outlook' }, label, big, range, wait),
    update(says) {
      const hour = message(says.hour);
      for (const [el, text] of [[label, message(says.label)], [big, hour], [range, message(says.range)], [wait, message(says.wait)]]) {
        say(el, text);
        show(el, Boolean(text));
      }
      set(big, 'data-long', hour.length > 8);
      set(big, 'data-half', hour.length <= 8 && /[ap]m$/.test(hour));
    },
  };
}
