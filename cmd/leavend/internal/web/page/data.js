// Taking the data out, and letting programs in.

import { h, say } from './dom.js';
import { t } from './text.js';
import { choices, field } from './parts.js';
import { post, read, remove } from './api.js';

// dataPart offers what is stored as files, of any span.
export function dataPart() {
  const from = h('input', { type: 'date' });
  const to = h('input', { type: 'date' });
  const links = h('ul', { class: 'files' });
  let vessels = [];
  for (const input of [from, to]) input.addEventListener('input', draw);

  // span is the chosen days, in this device's time zone; the last one counts whole.
  function span() {
    const q = new URLSearchParams();
    const day = (input, more) => { const [y, m, d] = input.value.split('-').map(Number); return new Date(y, m - 1, d + more).toISOString(); };
    if (from.value) q.set('from', day(from, 0));
    if (to.value) q.set('to', day(to, 1));
    return String(q) && `?${q}`;
  }

  function draw() {
    const file = (path, text) => h('li', {}, h('a', { href: `api/v1/${path}${span()}`, download: '' }, text));
    links.replaceChildren(...vessels.map((v) => file(`vessels/${encodeURIComponent(v.id)}/recording`, t('data.recording', { name: v.name }))),
      file('readings', t('data.readings')), file('journal', t('data.journal')));
  }
  draw();
  return {
    el: h('section', { class: 'block' }, h('h2', {}, t('data.title')), h('p', {}, t('data.text')), h('div', { class: 'two' }, field(t('data.from'), from), field(t('data.to'), to)), links),
    show(kitchen) {
      if (kitchen.vessels.map((v) => v.id).join() === vessels.map((v) => v.id).join()) return;
      vessels = kitchen.vessels;
      draw();
    },
  };
}

// tokenPart lists the programs that were given a token, and gives them. It is
// for whoever is signed in; to others it says nothing.
export function tokenPart(app) {
  const el = h('section', { class: 'block', hidden: true });
  draw();

  async function draw(made = null) {
    try {
      const { tokens } = await read('tokens');
      el.hidden = false;
      el.replaceChildren(h('h2', {}, t('token.title')), h('p', {}, t('token.text')), ...(made ? shown(made) : []),
        h('ul', { class: 'checks' }, tokens.map(line)), h('details', {}, h('summary', {}, t('token.add')), form()));
    } catch (err) {
      if (err.code !== 'sign-in') say(el, err.message);
    }
  }

  const line = (k) => h('li', {}, h('p', {}, h('strong', {}, k.name), ' ', h('span', { class: 'tag' }, t(`token.right.${k.right}`))),
    h('p', {}, t('token.made', { at: k.made })),
    h('button', { type: 'button', class: 'small', 'aria-label': t('token.revoke_label', { name: k.name }), onclick: async () => { if (await app.change(() => remove(`tokens/${k.name}`).then(() => true))) draw(); } }, t('token.revoke')));

  const shown = (k) => [h('p', { class: 'note', role: 'status' }, t('token.once', { name: k.name })), h('p', {}, h('code', { class: 'token' }, k.token))];

  function form() {
    let right = 'read';
    const name = h('input', { type: 'text', required: true, maxlength: 40, pattern: '[a-z0-9][a-z0-9_\\-]*', autocomplete: 'off', spellcheck: 'false', placeholder: 'home-hub' });
    return h('form', {
      onsubmit: async (e) => {
        e.preventDefault();
        const made = await app.change(() => post('tokens', { name: name.value, right }));
        if (made) draw(made);
      },
    }, field(t('token.name'), name, t('token.name_hint')), h('div', { class: 'field' }, h('h3', {}, t('token.may')),
      choices(t('token.may'), ['read', 'feed', 'change'].map((r) => [r, t(`token.right.${r}`)]), right, (v) => { right = v; }), h('p', { class: 'hint' }, t('token.may_hint'))),
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('token.button'))));
  }
  return el;
}
