// What each vessel does at this moment, and the button to press after a feed.

import { h, keep, say, set, show } from '../dom.js';
import { words } from '../words.js';
import { drawVessel } from '../vessel.js';
import { ago, ageS, clock, degrees, length, moment, now, strike, percent, sentence, span, times } from '../units.js';
import { post, put, remove, vesselPath } from '../api.js';

export function open(root, app) {
  const shelf = h('div', { class: 'shelf' });
  const nothing = h('p', { class: 'quiet lonely', hidden: true }, words.empty, ' ', h('a', { href: '#/walk' }, words.emptyLink));
  root.append(h('h1', { class: 'unseen' }, words.screens.now), shelf, nothing);
  return {
    show(kitchen) {
      show(nothing, kitchen.vessels.length === 0);
      set(shelf, 'data-many', kitchen.vessels.length);
      keep(shelf, kitchen.vessels, (v) => v.id, (v) => place(v, app), (el, v) => el.update(v, kitchen));
    },
    close() {},
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
  const note = h('p', { class: 'note' });
  const doubt = h('a', { class: 'doubt', href: `#/curve/${first.id}` });
  const el = h('article', { class: 'place', 'aria-labelledby': id },
    h('header', {}, name, stage),
    h('div', { class: 'stand' }, h('a', { class: 'picture', href: `#/curve/${first.id}`, 'aria-label': words.seeCurve(first) }, picture), head.el),
    h('div', { class: 'board', 'aria-hidden': 'true' }),
    h('div', {}, note, facts.el), act.el, h('div', { class: 'aside' }, cold && cold.el, doubt));
  el.update = (v, kitchen) => {
    say(name, v.name);
    say(stage, words.standing(v));
    set(stage, 'data-stage', v.stage);
    picture.update(v);
    head.update(v);
    say(note, sentence(v.note));
    show(note, Boolean(v.note));
    facts.update(v, kitchen.mats.find((m) => m.id === v.mat));
    act.update(v, kitchen);
    if (cold) cold.update(v);
    show(doubt, v.refused_in_last_hour > 0);
    say(doubt, words.refusedLately(v.refused_in_last_hour));
  };
  return el;
}

// outlook is the one number that matters, as large as it deserves.
function outlook() {
  const label = h('p', { class: 'outlook-label' });
  const big = h('p', { class: 'outlook-time' });
  const range = h('p', { class: 'outlook-range' });
  const wait = h('p', { class: 'outlook-wait' });
  return {
    el: h('div', { class: 'outlook' }, label, big, range, wait),
    update(v) {
      const [a, b, c, d] = outlookOf(v);
      say(label, a);
      say(big, b);
      say(range, c);
      say(wait, d);
      set(big, 'data-long', b.length > 8);
      set(big, 'data-half', b.length <= 8 && /[ap]m$/.test(b));
      show(big, Boolean(b));
      show(wait, Boolean(d));
    },
  };
}

function outlookOf(v) {
  if (v.fridge_since) return [words.inFridge, moment(v.fridge_since), words.noForecastWhy.asleep, ''];
  if (v.top) {
    const label = v.stage === 'top' || v.stage === 'target' ? words.isNow : words.was;
    return [label[v.kind], moment(v.top.top_at), words.topRatio(times(v.top.ratio)), ago(v.top.top_at)];
  }
  if (v.forecast) {
    const f = v.forecast;
    const left = (Date.parse(f.top_at) - now()) / 1000;
    return [words.expected[v.kind], moment(f.top_at), words.between(clock(f.low_at), clock(f.high_at)), left > 60 ? words.inAbout(span(left)) : ''];
  }
  return [words.noForecast, '', v.note ? '' : v.kind === 'bowl' && v.stage === 'unfed' ? words.noDoughWhy : words.noForecastWhy[v.stage] || '', ''];
}

// factList says the rest in four short lines, each with its age.
function factList(bowl) {
  const el = h('dl', { class: 'facts' });
  const line = (key) => {
    const term = h('dt', {}, words.fact[key]);
    const value = h('span');
    const age = h('span', { class: 'age' });
    const row = h('div', {}, term, h('dd', {}, value, ' ', age));
    el.append(row);
    return (text, at, staleAfter) => {
      show(row, text !== null);
      if (text === null) return;
      say(value, text);
      say(age, at ? ago(at) : '');
      set(row, 'data-stale', at && staleAfter && ageS(at) > staleAfter ? 'yes' : null);
    };
  };
  const rise = line('rise');
  const fed = line(bowl ? 'mixed' : 'fed');
  const warmth = line('warmth');
  const mat = line('mat');
  const air = line('air');
  return {
    el,
    update(v, m) {
      const wanted = v.kind === 'bowl' && v.target_ratio;
      const ratio = v.ratio && times(v.ratio.value);
      if (ratio) rise(wanted ? words.riseOfBowl(ratio, times(v.target_ratio)) : words.riseOf(ratio), v.ratio.at, v.stale_after_s);
      else rise(v.height ? words.heightOf(length(v.height.value)) : words.dash, v.height?.at, v.stale_after_s);
      fed(v.feed ? moment(v.feed.at) : words.notFed, v.feed?.at);
      warmth(v.temp ? degrees(v.temp.value) : words.dash, v.temp?.at, v.stale_after_s);
      mat(m ? matText(m) : null, m?.since);
      air(v.humidity ? words.humidity(percent(v.humidity.value / 100)) : null, v.humidity?.at, v.stale_after_s);
    },
  };
}

function matText(m) {
  const to = degrees(m.steering_c ?? m.setpoint_c);
  if (m.faults.length > 0) return words.matFault;
  if (!m.allowed) return words.matForbidden;
  return m.on ? words.matOn(to) : words.matOff(to);
}

// feedAct is the big button. Once pressed it makes room for Undo, so that a
// second press by a floury thumb takes nothing further.
function feedAct(first, app) {
  const bowl = first.kind === 'bowl';
  const button = h('button', { class: 'big', type: 'button', 'aria-label': words.fedLabel(first), onclick: fed }, bowl ? words.mixed : words.fed);
  const done = h('p', { class: 'noted' });
  const undo = h('button', { type: 'button', 'aria-label': words.undoLabel(first), onclick: takeBack }, words.undo);
  const more = h('a', { class: 'button', href: `#/feeds/${first.id}` }, words.amounts);
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
    app.announce(words.noted(first, clock(made.at)));
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
    app.announce(words.undone);
  }

  function render() {
    const open = feed && feed.undo_until && Date.parse(feed.undo_until) > now();
    show(after, Boolean(open));
    show(button, !open);
    if (open) say(done, words.noted(first, clock(feed.at)));
  }

  return {
    el: h('div', { class: 'act' }, button, after),
    update(v, kitchen) {
      if (Date.parse(kitchen.at) < acted) return;
      feed = v.feed || null;
      render();
    },
  };
}

// chillAct says that a jar goes into the fridge, or comes out of it.
function chillAct(first, app) {
  let v = first;
  const button = h('button', { type: 'button', class: 'small plain', onclick: move });
  async function move() {
    const into = !v.fridge_since;
    const done = await app.change(() => put(vesselPath(v.id, 'fridge'), { in: into }).then(() => true));
    if (done) app.announce(into ? words.chilled(v) : words.unchilled(v));
  }
  return {
    el: button,
    update(now) {
      v = now;
      say(button, v.fridge_since ? words.unchill : words.chill);
      set(button, 'aria-label', v.fridge_since ? words.unchillLabel(v) : words.chillLabel(v));
    },
  };
}
