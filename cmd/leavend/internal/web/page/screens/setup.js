// Set-up: the baker's taste in units and light, the password, and how each
// part of the daemon does.

import { h, say, show } from '../dom.js';
import { words } from '../words.js';
import { choices, field } from '../parts.js';
import { pushPart } from '../push.js';
import { moment, prefer, taste } from '../units.js';
import { post, put, read, remove } from '../api.js';

export function open(root, app) {
  const access = h('section', { class: 'block' });
  const checks = h('section', { class: 'block' });
  const fails = h('p', { class: 'wrong', role: 'alert' });
  root.append(h('div', { class: 'sheet' }, h('h1', {}, words.setup.title), looks(app), pushPart(app), access, fails, checks, about()));
  drawAccess();
  drawChecks();

  async function drawAccess() {
    try {
      access.replaceChildren(...accessParts(await read('session'), app, drawAccess));
    } catch (err) {
      say(fails, err.message);
    }
  }

  async function drawChecks() {
    try {
      checks.replaceChildren(...checkParts(await read('setup')));
    } catch (err) {
      say(fails, err.message);
    }
  }
  return { show() {}, close() {} };
}

// looks are kept in this browser only.
function looks(app) {
  const pickOne = (name, label, options) => h('div', { class: 'field' }, h('h3', {}, label), choices(label, options, taste[name], (v) => { prefer(name, v); app.redraw(); }));
  return h('section', { class: 'block' }, h('h2', {}, words.setup.looks),
    pickOne('units', words.setup.units, [['metric', words.setup.metric], ['us', words.setup.us]]),
    pickOne('clock', words.setup.clock, [['24', '14:20'], ['12', '2:20 pm']]),
    pickOne('light', words.setup.light, [['auto', words.setup.auto], ['light', words.setup.day], ['dark', words.setup.night]]),
    h('p', { class: 'hint' }, words.setup.looksHint));
}

function accessParts(s, app, again) {
  const head = h('h2', {}, words.setup.access);
  const state = h('p', {}, s.signed_in ? words.setup.signedIn : s.may_change ? words.setup.open : words.setup.lookOnly);
  const out = s.signed_in && h('button', { type: 'button', onclick: async () => { await app.change(() => remove('session')); again(); } }, words.setup.signOut);
  const entry = s.password_set && !s.signed_in && signInForm(app, again);
  return [head, state, out && h('div', { class: 'row' }, out), entry, h('details', { open: !s.password_set && !s.may_change }, h('summary', {}, s.password_set ? words.setup.changePassword : words.setup.choosePassword), passwordForm(s, app, again))].filter(Boolean);
}

function signInForm(app, again) {
  const pw = h('input', { type: 'password', autocomplete: 'current-password', required: true });
  return h('form', {
    onsubmit: async (e) => {
      e.preventDefault();
      if (await app.change(() => post('session', { password: pw.value }))) again();
    },
  }, field(words.password, pw), h('div', { class: 'row' }, h('button', { class: 'strong' }, words.signIn)));
}

function passwordForm(s, app, again) {
  const old = h('input', { type: 'password', autocomplete: 'current-password', required: true });
  const code = h('input', { type: 'text', inputmode: 'numeric', autocomplete: 'one-time-code', required: true });
  const fresh = h('input', { type: 'password', autocomplete: 'new-password', minlength: 8, maxlength: 72, required: true });
  return h('form', {
    onsubmit: async (e) => {
      e.preventDefault();
      const body = { new: fresh.value, ...(s.password_set ? { old: old.value } : {}), ...(s.needs_code ? { code: code.value.trim() } : {}) };
      if (!(await app.change(() => put('password', body)))) return;
      app.announce(words.setup.passwordKept);
      again();
    },
  }, s.password_set && field(words.setup.oldPassword, old), s.needs_code && field(words.setup.code, code, words.setup.codeHint),
  field(words.setup.newPassword, fresh, words.setup.passwordHint), h('div', { class: 'row' }, h('button', { class: 'strong' }, words.setup.keepPassword)));
}

function checkParts(setup) {
  const groups = [...new Set(setup.checks.map((c) => c.group))];
  return [h('h2', {}, words.setup.checks), h('div', { class: 'row' }, h('a', { class: 'button', href: '#/walk' }, words.setup.add)), ...groups.flatMap((g) => [
    h('h3', {}, words.setup.group[g] || g),
    h('ul', { class: 'checks' }, setup.checks.filter((c) => c.group === g).map((c) => h('li', { 'data-state': c.state },
      h('p', {}, h('strong', {}, c.name), ' ', h('span', { class: 'tag' }, words.setup.state[c.state] || c.state)),
      h('p', {}, c.says), c.do && h('p', { class: 'todo' }, c.do)))),
  ]), h('p', { class: 'quiet' }, words.setup.version(setup.version, setup.started ? moment(setup.started) : null))];
}

function about() {
  const install = h('p', {}, isSecureContext ? words.setup.install : words.setup.installNot);
  show(install, !matchMedia('(display-mode: standalone)').matches);
  return h('section', { class: 'block' }, h('h2', {}, words.setup.phone), install,
    h('p', { class: 'small-print' }, words.setup.thanks, ' ', h('a', { href: 'vendor/uPlot-LICENSE.txt' }, 'uPlot'), ', ', h('a', { href: 'vendor/vollkorn-LICENSE.txt' }, 'Vollkorn'), '. ', h('a', { href: 'api/openapi.json' }, words.setup.api)));
}
