// The frame of the page: which screen is shown, what the kitchen said last,
// and the banners that are never to be missed.

import { h, keep, say, set, show, ask } from './dom.js';
import { words } from './words.js';
import { ageS, clock, now, span, taste, tune } from './units.js';
import { read, post, Trouble } from './api.js';
import { listen } from './news.js';
import { dress } from './tab.js';
import { helper } from './helper.js';

const SCREENS = ['now', 'curve', 'feeds', 'plan', 'warmth', 'setup'];
const PART_OF = { walk: 'setup' }; // screens reached from another one

let kitchen = null;
let online = true;
let lastWord = null;
let screen = null; // { name, view }

const main = h('main', { id: 'content', tabindex: '-1' });
const notices = h('div', { class: 'notices', role: 'status' });
const polite = h('p', { class: 'unseen', role: 'status' });
const toast = h('p', { class: 'toast', role: 'alert', hidden: true });
const nav = h('nav', { 'aria-label': words.screensLabel },
  SCREENS.map((name) => h('a', { href: `#/${name}`, 'data-screen': name }, h('span', { class: `icon ${name}`, 'aria-hidden': 'true' }), words.screens[name])));

const app = {
  get kitchen() { return kitchen; },
  announce: (text) => say(polite, text),
  complain,
  change,
  redraw() { light(); refresh(); },
};

// change runs something that alters the kitchen. It asks for the password
// where one is needed, and says what went wrong. It returns null when nothing
// was changed.
async function change(act) {
  show(toast, false);
  try {
    return await act();
  } catch (err) {
    if (!(err instanceof Trouble)) throw err;
    if (err.code === 'sign-in' && await signIn()) return change(act);
    if (err.code !== 'sign-in') complain(err.message);
    return null;
  }
}

let toastTimer;
function complain(text) {
  say(toast, text);
  show(toast, true);
  clearTimeout(toastTimer);
  toastTimer = setTimeout(() => show(toast, false), 12_000);
}

// signIn asks for the password until it fits or the baker gives up. Where
// none is set yet, it leads to where one is chosen.
async function signIn() {
  if (!(await read('session')).password_set) {
    complain(words.choosePasswordFirst);
    location.hash = '#/setup';
    return false;
  }
  const field = h('input', { type: 'password', name: 'password', autocomplete: 'current-password', required: true, id: 'sign-in-password' });
  const wrong = h('p', { class: 'wrong', role: 'alert' });
  const form = h('form', { method: 'dialog' },
    h('h2', { id: 'sign-in-title' }, words.signInTitle), h('p', {}, words.signInText),
    h('label', { for: 'sign-in-password' }, words.password), field, wrong,
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'in' }, words.signIn), h('button', { value: '', formnovalidate: true }, words.cancel)));
  const dialog = h('dialog', { 'aria-labelledby': 'sign-in-title' }, form);
  form.addEventListener('submit', async (e) => {
    if (e.submitter?.value !== 'in') return;
    e.preventDefault();
    try {
      await post('session', { password: field.value });
      dialog.close('in');
    } catch (err) {
      say(wrong, err.message);
      field.select();
    }
  });
  return (await ask(dialog)) === 'in';
}

function light() {
  set(document.documentElement, 'data-light', taste.light === 'auto' ? null : taste.light);
}

// route shows the screen that the address names.
async function route() {
  const asked = location.hash;
  const [name, what] = location.hash.replace(/^#\//, '').split('/').map(decodeURIComponent);
  const wanted = SCREENS.includes(name) || name in PART_OF ? name : 'now';
  const listed = PART_OF[wanted] || wanted;
  const { open } = await import(`./screens/${wanted}.js`);
  if (asked !== location.hash) return; // a quicker tap overtook this one
  const moved = screen !== null;
  screen?.view.close();
  main.replaceChildren();
  screen = { name: listed, view: open(main, app, what) };
  for (const link of nav.children) set(link, 'aria-current', link.dataset.screen === listed ? 'page' : null);
  set(document.body, 'data-screen', wanted);
  refresh();
  if (moved) {
    scrollTo(0, 0);
    main.focus({ preventScroll: true });
  }
}

function refresh() {
  if (!screen) return;
  if (kitchen) {
    screen.view.show(kitchen);
    dress(kitchen, online, screen.name);
  }
  keep(notices, banners(), (b) => b.key, banner, (el, b) => say(el.firstChild, b.text));
}

function banner(b) {
  return h('p', { class: `banner ${b.kind}` }, h('span'),
    b.link && h('a', { href: b.link }, words.faultLink),
    b.ask && h('button', { type: 'button', class: 'small', 'aria-label': words.seenLabel(b.text), onclick: () => change(() => post(`asks/${encodeURIComponent(b.ask)}/seen`).then(() => true)) }, words.seen));
}

function banners() {
  const list = [];
  if (!online) list.push({ key: 'line', kind: 'warn', text: words.noWord(lastWord && clock(lastWord)) });
  if (!kitchen) return list.length || !screen ? list : [{ key: 'wait', kind: 'plain', text: words.loading }];
  for (const m of kitchen.mats) if (m.faults.length) list.push({ key: `fault-${m.id}`, kind: 'bad', text: words.faultBanner(m), link: '#/warmth' });
  for (const a of kitchen.asks) list.push({ key: `ask-${a.id}`, kind: 'ask', text: a.text, ask: a.id });
  if (online) {
    const late = [];
    for (const v of kitchen.vessels) {
      if (v.fridge_since) continue; // nobody looks at it there
      const at = v.ratio?.at || v.height?.at || v.temp?.at;
      if (!at) list.push({ key: `silent-${v.id}`, kind: 'warn', text: words.silentVessel(v) });
      else if (v.stale_after_s && ageS(at) > v.stale_after_s) late.push([v.name, ageS(at)]);
    }
    if (late.length) list.push({ key: 'stale', kind: 'warn', text: words.stale(late.map(([name]) => name), span(Math.max(...late.map(([, age]) => age)))) });
  }
  for (const n of kitchen.notices) list.push({ key: n.code, kind: 'warn', text: n.text });
  if (kitchen.demo) list.push({ key: 'demo', kind: 'plain', text: words.demo });
  return list;
}

// known is what the document itself brought. It may have been kept by the
// service worker, so it sets no clock.
function known() {
  const text = document.getElementById('known')?.textContent;
  if (!text) return;
  kitchen = JSON.parse(text);
  lastWord = Date.parse(kitchen.at);
}

function heard(state) {
  tune(state);
  kitchen = state;
  lastWord = now();
  refresh();
}

// start draws what came with the document, and asks once itself, so that fresh
// numbers do not wait for the stream.
async function start() {
  light();
  document.body.append(h('a', { class: 'skip', href: '#content', onclick: (e) => { e.preventDefault(); main.focus(); } }, words.skip), nav, notices, main, toast, polite);
  addEventListener('hashchange', route);
  const first = read('now').then(heard, (err) => {
    if (err.status === 401) return signIn().then((ok) => ok && location.reload(), () => {});
    online = false;
    return null;
  });
  known();
  await route();
  const pressed = [...document.querySelectorAll('#frame [data-pressed]')].map((el) => el.closest('article').dataset.vessel);
  document.getElementById('frame')?.remove();
  delete document.documentElement.dataset.elsewhere;
  for (const id of pressed) main.querySelector(`[data-key="${CSS.escape(id)}"] button.big:not([hidden])`)?.click();
  await first;
  refresh();
  listen(heard, (up) => { online = up; refresh(); });
  setInterval(refresh, 1000); // ages grow by themselves
  helper().catch(() => {}); // it is not needed; the block on messages says where it is missed
}

start();
