// Settings: what changes often first, which is messages, hours and jars; then how
// this device shows things, the state of the system, and who may do what.

import { h, say, show } from '../dom.js';
import { has, t } from '../text.js';
import { choices, field } from '../parts.js';
import { pushPart } from '../push.js';
import { messagesPart } from '../messages.js';
import { reachPart } from '../reach.js';
import { dataPart, tokenPart } from '../data.js';
import { hoursPart, vesselList } from '../household.js';
import { holidayPart } from '../holiday.js';
import { matEnergy } from '../energy.js';
import { restorePart } from '../restore.js';
import { prefer, taste } from '../taste.js';
import { post, put, read, remove } from '../api.js';

export function open(root, app) {
  const access = h('section', { class: 'block' });
  const checks = h('section', { class: 'block' });
  const fails = h('p', { class: 'wrong', role: 'alert' });
  const reach = read('reach');
  const changeable = reach.then((r) => !r.blocked, () => false);
  const list = vesselList(app, changeable);
  const vessels = h('section', { class: 'block' }, h('h2', {}, t('setup.vessels')), list.el);
  const energy = matEnergy();
  const data = dataPart();
  root.append(h('div', { class: 'sheet wide' }, h('h1', {}, t('setup.title')), fails, h('div', { class: 'spread' }, pushPart(app), messagesPart(app), holidayPart(app), hoursPart(app), vessels, display(app, app.languages), checks, about(app, reach), access, data.el, tokenPart(app)), thanks()));
  const add = h('div', { class: 'row', hidden: true }, h('a', { class: 'button', href: '#/new' }, t('setup.add')));
  vessels.append(add);
  changeable.then((yes) => show(add, yes));
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
      checks.replaceChildren(...checkParts(await read('setup'), energy.els, app));
    } catch (err) {
      say(fails, err.message);
    }
  }
  return { show(kitchen) { list.show(kitchen); data.show(kitchen); if (kitchen.mats[0]) energy.update(kitchen.mats[0]); }, close() {} };
}

// display is kept in this browser only.
function display(app, languages) {
  const pickOne = (name, options, then = app.redraw) => h('div', { class: 'field' }, h('h3', {}, t(`display.${name}`)), choices(t(`display.${name}`), options, taste[name], (v) => { prefer(name, v); then(v); }));
  return h('section', { class: 'block' }, h('h2', {}, t('display.title')), h('div', { class: 'pair' },
    h('div', {}, languages.length > 1 && pickOne('language', [['auto', t('display.language_auto')], ...languages.map((l) => [l.code, l.name])], () => location.reload()),
      pickOne('light', [['auto', t('display.auto')], ['light', t('display.day')], ['dark', t('display.night')]]),
      pickOne('clock', [['24', '14:20'], ['12', '2:20 pm']])),
    h('div', {}, pickOne('temperature', [['c', '°C'], ['f', '°F']]),
      pickOne('weight', [['g', 'g'], ['oz', 'oz']]),
      pickOne('size', [['metric', t('display.size_metric')], ['us', t('display.size_us')]]))),
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

// checkParts says in one line how the system is, then what needs attention; the
// rest is folded away.
function checkParts(setup, energy, app) {
  const amiss = setup.checks.filter((c) => c.state !== 'ok');
  const groups = [...new Set(setup.checks.map((c) => c.group))];
  const line = (c) => h('li', { 'data-state': c.state },
    h('p', {}, h('strong', {}, c.name), ' ', h('span', { class: 'tag' }, has(`setup.state.${c.state}`) ? t(`setup.state.${c.state}`) : c.state)),
    h('p', {}, c.says), c.do && h('p', { class: 'todo' }, c.do));
  return [h('h2', {}, t('setup.checks')),
    h('p', {}, amiss.length ? t('setup.some_bad', { n: amiss.length }) : t('setup.all_well')),
    restorePart(app, setup.restore),
    amiss.length > 0 && h('ul', { class: 'checks' }, amiss.map(line)),
    h('details', {}, h('summary', {}, t('setup.details')), ...groups.flatMap((g) => [
      h('h3', {}, has(`setup.group.${g}`) ? t(`setup.group.${g}`) : g), h('ul', { class: 'checks' }, setup.checks.filter((c) => c.group === g).map(line))]), ...energy),
    h('p', { class: 'quiet' }, setup.started ? t('setup.version_since', { version: setup.version, since: setup.started }) : t('setup.version', { version: setup.version }))].filter(Boolean);
}

function about(app, reach) {
  const install = h('p', {}, isSecureContext ? t('setup.install') : t('setup.install_not'));
  show(install, !matchMedia('(display-mode: standalone)').matches);
  return h('section', { class: 'block' }, h('h2', {}, t('setup.phone')), reachPart(app, reach), install);
}

const thanks = () => h('p', { class: 'small-print' }, t('setup.thanks'), ' ', h('a', { href: 'vendor/uPlot-LICENSE.txt' }, 'uPlot'), ', ', h('a', { href: 'vendor/vollkorn-LICENSE.txt' }, 'Vollkorn'), '. ', h('a', { href: 'api/openapi.json' }, t('setup.api')));
