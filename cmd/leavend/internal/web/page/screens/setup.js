// Set-up: the baker's taste in units and light, the password, and how each
// part of the daemon does.

import { h, say, show } from '../dom.js';
import { t } from '../text.js';
import { choices, field } from '../parts.js';
import { pushPart } from '../push.js';
import { moment, prefer, taste } from '../units.js';
import { post, put, read, remove } from '../api.js';

export function open(root, app) {
  const access = h('section', { class: 'block' });
  const checks = h('section', { class: 'block' });
  const fails = h('p', { class: 'wrong', role: 'alert' });
  root.append(h('div', { class: 'sheet' }, h('h1', {}, t('setup.title')), looks(app), pushPart(app), access, fails, checks, about()));
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
  return h('section', { class: 'block' }, h('h2', {}, t('display.title')),
    pickOne('units', t('display.units'), [['metric', t('display.metric')], ['us', t('display.us')]]),
    pickOne('clock', t('display.clock'), [['24', '14:20'], ['12', '2:20 pm']]),
    pickOne('light', t('display.light'), [['auto', t('display.auto')], ['light', t('display.day')], ['dark', t('display.night')]]),
    h('p', { class: 'hint' }, t('display.hint')));
}

function accessParts(s, app, again) {
  const head = h('h2', {}, t('setup.access'));
  const state = h('p', {}, s.signed_in ? t('setup.signed_in') : s.may_change ? t('setup.open') : t('setup.look_only'));
  const out = s.signed_in && h('button', { type: 'button', onclick: async () => { await app.change(() => remove('session')); again(); } }, t('setup.sign_out'));
  const entry = s.password_set && !s.signed_in && signInForm(app, again);
  return [head, state, out && h('div', { class: 'row' }, out), entry, h('details', { open: !s.password_set && !s.may_change }, h('summary', {}, s.password_set ? t('setup.change_password') : t('setup.choose_password')), passwordForm(s, app, again))].filter(Boolean);
}

function signInForm(app, again) {
  const pw = h('input', { type: 'password', autocomplete: 'current-password', required: true });
  return h('form', {
    onsubmit: async (e) => {
      e.preventDefault();
      if (await app.change(() => post('session', { password: pw.value }))) again();
    },
  }, field(t('sign_in.password'), pw), h('div', { class: 'row' }, h('button', { class: 'strong' }, t('sign_in.button'))));
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
      app.announce(t('setup.password_saved'));
      again();
    },
  }, s.password_set && field(t('setup.old_password'), old), s.needs_code && field(t('setup.code'), code, t('setup.code_hint')),
  field(t('setup.new_password'), fresh, t('setup.password_hint')), h('div', { class: 'row' }, h('button', { class: 'strong' }, t('setup.save_password'))));
}

function checkParts(setup) {
  const groups = [...new Set(setup.checks.map((c) => c.group))];
  return [h('h2', {}, t('setup.checks')), h('div', { class: 'row' }, h('a', { class: 'button', href: '#/walk' }, t('setup.add'))), ...groups.flatMap((g) => [
    h('h3', {}, t(`setup.group.${g}`) || g),
    h('ul', { class: 'checks' }, setup.checks.filter((c) => c.group === g).map((c) => h('li', { 'data-state': c.state },
      h('p', {}, h('strong', {}, c.name), ' ', h('span', { class: 'tag' }, t(`setup.state.${c.state}`) || c.state)),
      h('p', {}, c.says), c.do && h('p', { class: 'todo' }, c.do)))),
  ]), h('p', { class: 'quiet' }, t('setup.version', { version: setup.version, since: setup.started ? moment(setup.started) : null }))];
}

function about() {
  const install = h('p', {}, isSecureContext ? t('setup.install') : t('setup.install_not'));
  show(install, !matchMedia('(display-mode: standalone)').matches);
  return h('section', { class: 'block' }, h('h2', {}, t('setup.phone')), install,
    h('p', { class: 'small-print' }, t('setup.thanks'), ' ', h('a', { href: 'vendor/uPlot-LICENSE.txt' }, 'uPlot'), ', ', h('a', { href: 'vendor/vollkorn-LICENSE.txt' }, 'Vollkorn'), '. ', h('a', { href: 'api/openapi.json' }, t('setup.api'))));
}
