// Opening the page to the home network, for a phone: the ways to send it, the
// first password, the address as text and as a QR code.

import { h, s, say } from './dom.js';
import { t } from './text.js';
import { choices, field } from './parts.js';
import { put, reason } from './api.js';

// reachPart shows what was read of it.
export function reachPart(app, reach) {
  const el = h('div', { class: 'reach' });
  reach.then((r) => draw(r), (err) => say(el, err.message));

  function draw(r) {
    el.replaceChildren(...[...(r.open ? opened(r) : [h('p', {}, t('reach.board_only'))]),
      ...(r.blocked ? [h('p', { class: 'hint', hidden: app.kitchen?.demo }, reason(r.blocked))] : [h('details', { open: !r.open }, h('summary', {}, t(r.open ? 'reach.change' : 'reach.open')), openForm(r, app, change))])]);
  }

  // change asks for it, and shows what comes of it. The daemon starts again, so
  // the page may be gone from where it is looked at now.
  async function change(body) {
    const r = await app.change(() => put('reach', body));
    if (!r) return;
    app.announce(t('reach.done'));
    el.replaceChildren(h('p', { class: 'note', role: 'status' }, t('reach.done')), ...(r.open ? opened(r) : [h('p', {}, t('reach.board_only'))]));
  }
  return el;
}

// opened shows the addresses.
function opened(r) {
  return [h('p', {}, t('reach.scan')),
    h('div', { class: 'scan' }, picture(r.qr, r.addresses[0]), h('ul', {}, r.addresses.map((a) => h('li', {}, h('a', { href: a }, a))))),
    r.tls && !r.own_files && h('p', { class: 'hint' }, t('reach.warns')),
    r.addresses.some((a) => /\.local(:|$)/.test(a)) && h('p', { class: 'hint' }, t('reach.local')),
    r.code && h('p', { class: 'note' }, t('reach.code', { code: r.code }))].filter(Boolean);
}

// picture draws the QR code, dark on light by night too, with the light edge of
// four modules that ISO/IEC 18004 asks for.
function picture(rows, address) {
  const edge = 4;
  const size = rows.length + 2 * edge;
  const dark = rows.flatMap((row, y) => [...row].map((c, x) => (c === '1' ? `M${x + edge} ${y + edge}h1v1h-1z` : ''))).join('');
  return s('svg', { class: 'qr', viewBox: `0 0 ${size} ${size}`, role: 'img', 'aria-label': t('reach.picture', { address }), 'shape-rendering': 'crispEdges' },
    s('rect', { width: size, height: size, fill: '#fff' }), s('path', { d: dark, fill: '#000' }));
}

// openForm asks how the page shall be sent, and for the first password.
function openForm(r, app, change) {
  let tls = r.open && !r.tls ? 'off' : 'self-made';
  const pw = h('input', { type: 'password', autocomplete: 'new-password', minlength: 8, maxlength: 72, required: true });
  const ways = h('div', { class: 'field' }, h('h3', {}, t('reach.how')),
    choices(t('reach.how'), [['self-made', t('reach.encrypted')], ['off', t('reach.plain')]], tls, (v) => { tls = v; say(means, meaning(v)); }));
  const meaning = (v) => t(v === 'off' ? 'reach.plain_means' : 'reach.encrypted_means');
  const means = h('p', { class: 'hint' }, meaning(tls));
  const close = r.open && h('button', { type: 'button', onclick: () => change({ open: false }) }, t('reach.close'));
  return h('form', {
    onsubmit: (e) => {
      e.preventDefault();
      change({ open: true, ...(r.own_files ? {} : { tls }), ...(r.password_set ? {} : { password: pw.value }) });
    },
  }, !r.own_files && ways, !r.own_files && means, !r.own_files && h('p', { class: 'hint' }, t('reach.own_files')),
  !r.password_set && field(t('setup.new_password'), pw, t('reach.password_hint')),
  h('p', { class: 'hint' }, t('reach.restarts')),
  h('div', { class: 'row' }, h('button', { class: 'strong' }, t(r.open ? 'reach.apply' : 'reach.button')), close));
}
