// The frame of the page: which screen is shown, what the kitchen said last,
// and the banners that are never to be missed.

import { h, keep, say, set, show, ask } from './dom.js';
import { list as joined, loadText, message, t, whenMissing } from './text.js';
import { taste } from './taste.js';
import { ageS, now, tune } from './times.js';
import { writeUnits } from './units.js';
import { read, post, Trouble } from './api.js';
import { listen } from './news.js';
import { dress } from './tab.js';
import { helper } from './helper.js';

const SCREENS = ['now', 'curve', 'feeds', 'plan', 'mat', 'setup'];
const PART_OF = { starter: 'feeds' }; // a screen reached from another one
const RARE = { new: 'setup', recipes: 'plan' }; // the same, in a file of its own with its own sentences
const ONCE = { warmth: 'mat', walk: 'new' }; // what bookmarks may still say

let kitchen = null;
let online = true;
let lastWord = null;
let screen = null; // { name, view }

const main = h('main', { id: 'content', tabindex: '-1' });
const notices = h('div', { class: 'notices', role: 'status' });
const polite = h('p', { class: 'unseen', role: 'status' });
const toast = h('p', { class: 'toast', role: 'alert', hidden: true });
let nav; // made once there are words for it

const app = {
  get kitchen() { return kitchen; },
  get languages() { return JSON.parse(document.getElementById('languages').textContent); },
  announce: (text) => say(polite, text),
  complain,
  change,
  redraw() { light(); refresh(); },
  rare,
};

// rare brings a part of the page that few visits need, with its sentences.
async function rare(name) {
  await loadText('rare');
  return import(`./rare/${name}.js`);
}

// change runs something that alters the kitchen. It asks for the password
// where one is needed, and says what went wrong. It returns null when nothing
// was changed.
async function change(act) {
  show(toast, false);
  try {
    const made = await act();
    if (made?.in_memory) complain(t('error.in_memory'));
    return made;
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
    complain(t('sign_in.choose_first'));
    location.hash = '#/setup';
    return false;
  }
  const field = h('input', { type: 'password', name: 'password', autocomplete: 'current-password', required: true, id: 'sign-in-password' });
  const wrong = h('p', { class: 'wrong', role: 'alert' });
  const form = h('form', { method: 'dialog' },
    h('h2', { id: 'sign-in-title' }, t('sign_in.title')), h('p', {}, t('sign_in.text')),
    h('label', { for: 'sign-in-password' }, t('sign_in.password')), field, wrong,
    h('div', { class: 'row' }, h('button', { class: 'strong', value: 'in' }, t('sign_in.button')), h('button', { value: '', formnovalidate: true }, t('common.cancel'))));
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
  const known = ONCE[name] || name;
  const wanted = SCREENS.includes(known) || known in PART_OF || known in RARE ? known : 'now';
  const listed = PART_OF[wanted] || RARE[wanted] || wanted;
  const { open } = await (wanted in RARE ? rare(wanted) : import(`./screens/${wanted}.js`));
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
    b.link && h('a', { href: b.link }, t('banner.fault_link')),
    b.ask && h('button', { type: 'button', class: 'small', 'aria-label': t('now.seen_label', { text: b.text }), onclick: () => change(() => post(`asks/${encodeURIComponent(b.ask)}/seen`).then(() => true)) }, t('now.seen')));
}

// banners are what must not be missed on any screen. What belongs to a vessel
// stands with it on the first screen, and one fault has one banner.
function banners() {
  const list = [];
  if (!online) list.push({ key: 'line', kind: 'warn', text: lastWord ? t('banner.offline', { at: lastWord }) : t('banner.never') });
  if (!kitchen) return list.length || !screen ? list : [{ key: 'wait', kind: 'plain', text: t('banner.connecting') }];
  for (const m of kitchen.mats) if (m.faults.length) list.push({ key: `fault-${m.id}`, kind: 'bad', text: t('banner.fault', { name: m.name }), link: '#/mat' });
  for (const a of kitchen.asks) if (!ofVessel(a) && !ofMat(a)) list.push({ key: `ask-${a.id}`, kind: 'ask', text: a.text, ask: a.id });
  if (online) list.push(...late());
  for (const n of kitchen.notices) list.push({ key: `${n.code} ${n.text}`, kind: 'warn', text: message(n.text_say, n.text) });
  if (kitchen.demo) list.push({ key: 'demo', kind: 'plain', text: t('banner.demo') });
  return list;
}

const ofVessel = (a) => screen?.name === 'now' && kitchen.vessels.some((v) => v.id === a.vessel);
const ofMat = (a) => kitchen.mats.some((m) => m.id === a.vessel && m.faults.length > 0);

// late tells of readings that do not come, all in one banner.
function late() {
  const list = [];
  const old = [];
  for (const v of kitchen.vessels) {
    if (v.fridge_since || v.note || v.note_say) continue; // it is not watched there, or its card says why
    const at = v.ratio?.at || v.height?.at || v.temp?.at;
    if (!at) list.push({ key: `silent-${v.id}`, kind: 'warn', text: t('banner.silent', { name: v.name }) });
    else if (v.stale_after_s && ageS(at) > v.stale_after_s) old.push([v.name, ageS(at)]);
  }
  if (old.length) list.push({ key: 'stale', kind: 'warn', text: t('banner.stale', { names: joined(old.map(([name]) => name)), age: Math.max(...old.map(([, age]) => age)) }) });
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
  writeUnits();
  await loadText();
  whenMissing(() => loadText('rare').then(refresh, () => {}));
  nav = h('nav', { 'aria-label': t('screen.all') },
    SCREENS.map((name) => h('a', { href: `#/${name}`, 'data-screen': name }, h('span', { class: `icon ${name}`, 'aria-hidden': 'true' }), t(`screen.${name}`))));
  document.body.append(h('a', { class: 'skip', href: '#content', onclick: (e) => { e.preventDefault(); main.focus(); } }, t('screen.skip')), nav, notices, main, toast, polite);
  addEventListener('hashchange', route);
  const first = read('now').then(heard, (err) => {
    if (err.status === 401) return signIn().then((ok) => ok && location.reload(), () => {});
    online = false;
    return null;
  });
  known();
  await route();
  const pressed = [...document.querySelectorAll('#frame [data-pressed]')].map((el) => [el.closest('article').dataset.vessel, el.dataset.act]);
  document.getElementById('frame')?.remove();
  delete document.documentElement.dataset.elsewhere;
  for (const [id, act] of pressed) main.querySelector(`[data-key="${CSS.escape(id)}"] button[data-act="${act}"]:not([hidden])`)?.click();
  await first;
  refresh();
  listen(heard, (up) => { online = up; refresh(); });
  setInterval(refresh, 1000); // ages grow by themselves
  helper().catch(() => {}); // it is not needed; the block on messages says where it is missed
}

start();
