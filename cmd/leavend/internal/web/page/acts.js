// The buttons of a vessel on the first screen. The big one does what is to be
// done next, as the daemon says; the others are smaller.

import { h, say, set, show } from './dom.js';
import { t } from './text.js';
import { now, strike } from './times.js';
import { post, put, remove, vesselPath } from './api.js';

// mainAct is the big button and what a press of it leaves: once pressed it makes
// room for Undo, so that a second press by a floury thumb takes nothing further.
export function mainAct(first, app) {
  const { kind, name } = first;
  const acts = { feed: feeding(first), use: using(first), out: takingOut(first) };
  const big = h('button', { class: 'big', type: 'button', onclick: () => press(big, acts[next]) });
  const other = h('button', { class: 'other', type: 'button', 'data-act': 'feed', 'aria-label': t(`now.fed_label.${kind}`, { name }), onclick: () => press(other, acts.feed) }, t(`now.fed.${kind}`));
  const done = h('p', { class: 'noted' });
  const undo = h('button', { type: 'button', onclick: takeBack }, t('now.undo'));
  const more = h('a', { class: 'button', href: `#/feeds/${first.id}` }, t('now.amounts'));
  const after = h('div', { class: 'after', hidden: true }, done, undo, more);
  let next = ''; // what the big button does
  let last = null; // what can be taken back
  let acted = 0; // what the kitchen said before this moment is out of date

  async function press(button, act) {
    button.disabled = true;
    const made = await app.change(act.act);
    button.disabled = false;
    if (!made) return;
    if (made.at) strike(made.at); // a thumb may be quicker than the kitchen's first word
    acted = Math.max(now(), Date.parse(made.at) || 0); // a message that came late makes this clock run behind the kitchen's
    last = act.undo && { act, ...made };
    app.announce(act.says(made));
    if (!last) return;
    render();
    undo.focus();
  }

  async function takeBack() {
    undo.disabled = true;
    const gone = await app.change(() => last.act.undo(last).then(() => true));
    undo.disabled = false;
    if (!gone) return;
    acted = now();
    last = null;
    render();
    (big.hidden ? other : big).focus();
    app.announce(t('common.removed'));
  }

  function render() {
    const open = last?.undo_until && Date.parse(last.undo_until) > now();
    show(after, Boolean(open));
    show(big, !open && next !== '');
    show(other, next !== 'feed' && !open && !(kind === 'bowl' && next === 'use') || Boolean(open && kind === 'jar' && last.act === acts.use));
    show(more, Boolean(open) && last.act === acts.feed);
    if (next) {
      say(big, t(acts[next].text));
      set(big, 'aria-label', t(acts[next].label, { name }));
      set(big, 'data-act', next);
    }
    if (open) {
      say(done, last.act.says(last));
      set(undo, 'aria-label', t(last.act.undoLabel, { name }));
    }
  }

  return {
    el: h('div', { class: 'main-act' }, big, after, other),
    update(v, kitchen) {
      if (Date.parse(kitchen.at) < acted) return;
      next = v.says.press || '';
      last = v.used ? { act: acts.use, ...v.used } : v.feed ? { act: acts.feed, ...v.feed } : null;
      render();
    },
  };
}

// feeding says that it was fed, or dough mixed.
const feeding = ({ id, kind }) => ({
  text: `now.fed.${kind}`, label: `now.fed_label.${kind}`, undoLabel: 'now.undo_label',
  act: () => post(vesselPath(id, 'feeds'), {}),
  undo: (feed) => remove(vesselPath(id, `feeds/${encodeURIComponent(feed.id)}`)),
  says: ({ at }) => t(`now.noted.${kind}`, { at }),
});

// using says that it was used, or the dough shaped.
const using = ({ id, kind }) => ({
  text: `now.used.${kind}`, label: `now.used_label.${kind}`, undoLabel: 'now.undo_used_label',
  act: () => put(vesselPath(id, 'used'), { how: kind === 'bowl' ? 'shaped' : 'used' }),
  undo: () => remove(vesselPath(id, 'used')),
  says: ({ how, at }) => t(`now.noted_used.${how}`, { at }),
});

// takingOut says that a jar came out of the fridge.
const takingOut = ({ id, name }) => ({
  text: 'now.out_of_fridge', label: 'now.out_of_fridge_label',
  act: () => put(vesselPath(id, 'fridge'), { in: false }).then(() => ({})),
  says: () => t('now.unchilled', { name }),
});

// seenAct ends the reminders of what is said of this vessel.
export function seenAct(app) {
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

// foldAct says that the dough was stretched and folded, while it rises.
export function foldAct(first, app) {
  const button = h('button', { type: 'button', class: 'small plain', 'aria-label': t('now.folded_label', { name: first.name }), onclick: fold }, t('now.folded'));
  async function fold() {
    if (await app.change(() => post(vesselPath(first.id, 'folds')).then(() => true))) app.announce(t('now.was_folded', { name: first.name }));
  }
  return { el: button, update: (v) => show(button, v.stage === 'rising' || v.stage === 'settling') };
}

// chillAct says that a jar goes into the fridge.
export function chillAct(first, app) {
  const { id, name } = first;
  const button = h('button', { type: 'button', class: 'small plain', 'aria-label': t('now.into_fridge_label', { name }), onclick: chill }, t('now.into_fridge'));
  async function chill() {
    if (await app.change(() => put(vesselPath(id, 'fridge'), { in: true }).then(() => true))) app.announce(t('now.chilled', { name }));
  }
  return { el: button, update: (v) => show(button, !v.fridge_since) };
}

// coldDough says that dough which has risen went into the fridge as it is.
export function coldDough(first, app) {
  const button = h('button', { type: 'button', class: 'small plain', hidden: true, 'aria-label': t('now.chilled_dough_label', { name: first.name }), onclick: chill }, t('now.chilled_dough'));
  async function chill() {
    const made = await app.change(() => put(vesselPath(first.id, 'used'), { how: 'chilled' }));
    if (made) app.announce(t('now.noted_used.chilled', { at: made.at }));
  }
  return { el: button, update: (v) => show(button, v.says.press === 'use') };
}
