// What each vessel does at this moment, the one thing to do, and the button to
// press after a feed. What is said of a vessel comes from the daemon.

import { h, keep, say, set, show } from '../dom.js';
import { message, t } from '../text.js';
import { drawVessel } from '../vessel.js';
import { forgotten } from '../forgotten.js';
import { nothingYet } from '../parts.js';
import { ago, ageS, degrees, moment, now, sentence, strike, told } from '../units.js';
import { post, put, remove, vesselPath } from '../api.js';

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
      say(what, told(s.say));
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
  const act = feedAct(first, app);
  const cold = first.kind === 'jar' && chillAct(first, app);
  const fold = first.kind === 'bowl' && foldAct(first, app);
  const seen = seenAct(app);
  const advice = h('p', { class: 'advice' });
  const note = h('p', { class: 'note' });
  const earlier = h('button', { type: 'button', class: 'small plain', 'aria-label': `${t(first.kind === 'bowl' ? 'now.mixed_earlier' : 'now.fed_earlier')} ${first.name}`, onclick: () => forgotten(first, app) }, t(first.kind === 'bowl' ? 'now.mixed_earlier' : 'now.fed_earlier'));
  const el = h('article', { class: 'place', 'aria-labelledby': id },
    h('header', {}, name, stage),
    h('div', { class: 'stand' }, h('a', { class: 'picture', href: `#/curve/${first.id}`, 'aria-label': t('now.curve_of', { name: first.name }) }, picture), head.el),
    h('div', { class: 'board', 'aria-hidden': 'true' }),
    h('div', {}, advice, note, facts.el), h('div', { class: 'act' }, act.el, seen.el), h('div', { class: 'aside' }, cold && cold.el, fold && fold.el, earlier));
  el.update = (v, kitchen) => {
    say(name, v.name);
    set(el, 'data-face', v.says.face);
    say(stage, message(v.says.stage));
    picture.update(v);
    head.update(v.says);
    say(advice, message(v.says.do));
    show(advice, Boolean(v.says.do));
    say(note, v.note_say ? message(v.note_say) : sentence(v.note));
    show(note, Boolean(v.note || v.note_say));
    facts.update(v, kitchen.mats.find((m) => m.id === v.mat));
    act.update(v, kitchen);
    seen.update(kitchen.asks.find((a) => a.vessel === v.id));
    if (cold) cold.update(v);
    if (fold) fold.update(v);
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

// factList says the rest in a few short lines; only a reading that is late
// shows its age.
function factList(bowl) {
  const el = h('dl', { class: 'facts' });
  const line = (key) => {
    const value = h('span');
    const age = h('span', { class: 'age' });
    const row = h('div', {}, h('dt', {}, t(`fact.${key}`)), h('dd', {}, value, ' ', age));
    el.append(row);
    return (text, at, staleAfter) => {
      show(row, text !== null);
      if (text === null) return;
      const late = at && staleAfter && ageS(at) > staleAfter;
      say(value, text);
      say(age, at && (late || !staleAfter) ? ago(at) : '');
      set(row, 'data-stale', late ? 'yes' : null);
    };
  };
  const rise = line('rise');
  const fed = line(bowl ? 'mixed' : 'fed');
  const warmth = line('temperature');
  const mat = line('mat');
  const air = line('air');
  return {
    el,
    update(v, m) {
      const ratio = v.ratio?.value;
      if (v.ratio) rise(bowl && v.target_ratio ? t('fact.rise_bowl', { ratio, target: v.target_ratio }) : t('fact.rise_jar', { ratio }), v.ratio.at, v.stale_after_s);
      else rise(v.height ? t('fact.height', { mm: v.height.value }) : t('number.unknown'), v.height?.at, v.stale_after_s);
      fed(v.feed ? moment(v.feed.at) : t('fact.not_yet'), v.feed?.at);
      warmth(v.thermometer_out ? t('fact.no_thermometer') : v.temp ? degrees(v.temp.value) : t('number.unknown'), v.temp?.at, v.stale_after_s);
      mat(m ? matText(m) : null);
      air(v.humidity ? t('fact.humidity', { share: v.humidity.value / 100 }) : null, v.humidity?.at, v.stale_after_s);
    },
  };
}

function matText(m) {
  const to = m.steering_c ?? m.setpoint_c;
  if (m.faults.length > 0) return t('fact.mat_fault');
  if (!m.allowed) return t('fact.mat_forbidden');
  return t(m.on ? 'fact.mat_on' : 'fact.mat_off', { to });
}

// seenAct ends the reminders of what is said of this vessel.
function seenAct(app) {
  const button = h('button', { type: 'button', hidden: true, onclick: () => app.change(() => post(`asks/${encodeURIComponent(ask.id)}/seen`).then(() => true)) }, t('now.seen'));
  let ask = null;
  return {
    el: button,
    update(a) {
      ask = a;
      show(button, Boolean(a));
      if (a) set(button, 'aria-label', t('now.seen_label', { text: a.text }));
    },
  };
}

// feedAct is the big button. Once pressed it makes room for Undo, so that a
// second press by a floury thumb takes nothing further.
function feedAct(first, app) {
  const { kind, name } = first;
  const button = h('button', { class: 'big', type: 'button', 'aria-label': t(`now.fed_label.${kind}`, { name }), onclick: fed }, t(`now.fed.${kind}`));
  const done = h('p', { class: 'noted' });
  const undo = h('button', { type: 'button', 'aria-label': t('now.undo_label', { name }), onclick: takeBack }, t('now.undo'));
  const more = h('a', { class: 'button', href: `#/feeds/${first.id}` }, t('now.amounts'));
  const after = h('div', { class: 'after', hidden: true }, done, undo, more);
  let feed = null; // the one that can be taken back
  let acted = 0; // what the kitchen said before this moment is out of date

  async function fed() {
    button.disabled = true;
    const made = await app.change(() => post(vesselPath(first.id, 'feeds'), {}));
    button.disabled = false;
    if (!made) return;
    strike(made.at); // a thumb may be quicker than the kitchen's first word
    acted = Math.max(now(), Date.parse(made.at)); // a message that came late makes this clock run behind the kitchen's
    feed = { id: made.id, at: made.at, undo_until: made.undo_until };
    render();
    undo.focus();
    app.announce(t(`now.noted.${kind}`, { at: made.at }));
  }

  async function takeBack() {
    undo.disabled = true;
    const gone = await app.change(() => remove(vesselPath(first.id, `feeds/${encodeURIComponent(feed.id)}`)).then(() => true));
    undo.disabled = false;
    if (!gone) return;
    acted = now();
    feed = null;
    render();
    button.focus();
    app.announce(t('common.removed'));
  }

  function render() {
    const open = feed && feed.undo_until && Date.parse(feed.undo_until) > now();
    show(after, Boolean(open));
    show(button, !open);
    if (open) say(done, t(`now.noted.${kind}`, { at: feed.at }));
  }

  return {
    el: h('div', { class: 'feed-act' }, button, after),
    update(v, kitchen) {
      if (Date.parse(kitchen.at) < acted) return;
      feed = v.feed || null;
      render();
    },
  };
}

// foldAct says that the dough was stretched and folded, while it rises.
function foldAct(first, app) {
  const button = h('button', { type: 'button', class: 'small plain', 'aria-label': t('now.folded_label', { name: first.name }), onclick: fold }, t('now.folded'));
  async function fold() {
    if (await app.change(() => post(vesselPath(first.id, 'folds')).then(() => true))) app.announce(t('now.was_folded', { name: first.name }));
  }
  return { el: button, update: (v) => show(button, v.stage === 'rising' || v.stage === 'settling') };
}

// chillAct says that a jar goes into the fridge, or comes out of it.
function chillAct(first, app) {
  let v = first;
  const button = h('button', { type: 'button', class: 'small plain', onclick: move });
  async function move() {
    const into = !v.fridge_since;
    const done = await app.change(() => put(vesselPath(v.id, 'fridge'), { in: into }).then(() => true));
    if (done) app.announce(t(into ? 'now.chilled' : 'now.unchilled', { name: v.name }));
  }
  return {
    el: button,
    update(latest) {
      v = latest;
      say(button, t(v.fridge_since ? 'now.out_of_fridge' : 'now.into_fridge'));
      set(button, 'aria-label', t(v.fridge_since ? 'now.out_of_fridge_label' : 'now.into_fridge_label', { name: v.name }));
    },
  };
}
