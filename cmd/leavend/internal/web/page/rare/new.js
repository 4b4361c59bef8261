// The way from a bare board to a watched jar, one question after another.
// Nothing is written before the last step.

import { h, say, set, show } from '../dom.js';
import { t } from '../text.js';
import { choices, field } from '../parts.js';
import { taste } from '../taste.js';
import { degrees, length, plain, sentence } from '../units.js';
import { post, read, reason } from '../api.js';
import { cautions } from './cautions.js';

export function open(root, app) {
  const steps = h('div', {});
  const again = h('button', { type: 'button', onclick: look }, t('new_vessel.look_again'));
  const wait = h('p', { class: 'quiet', role: 'status' }, t('new_vessel.looking'));
  root.append(h('div', { class: 'sheet' }, h('h1', {}, t('new_vessel.title')), h('p', {}, t('new_vessel.lead')), wait, steps));
  look();

  // look asks what is there; signing in comes first where it is needed.
  async function look() {
    show(wait, true);
    again.disabled = true;
    let why = null; // stays in sight, unlike a complaint
    const found = await app.change(() => read('walk').catch((err) => {
      if (err.code === 'sign-in') throw err;
      why = h('p', { class: 'note', role: 'alert' }, sentence(err.message));
      return null;
    }));
    again.disabled = false;
    show(wait, false);
    steps.replaceChildren(...(found ? ask(found, again, app) : [why, h('div', { class: 'row' }, again)].filter(Boolean)));
  }
  return { show() {}, close() {} };
}

// ask lays out the questions for what was found.
function ask(found, again, app) {
  const answers = { kind: 'jar', mat: 'none', floor_mm: 0 };
  const rangers = found.sensors.filter((x) => x.measures === 'distance');
  const probes = found.sensors.filter((x) => x.measures === 'temperature');
  const parts = [board(found, again, app)];
  if (!rangers.length) return [...parts, h('p', {}, t('new_vessel.no_ranger'))];
  const form = h('form', { onsubmit: (e) => { e.preventDefault(); draft(); } });
  const vessel = which(rangers, probes, answers);
  const deep = depth(vessel, answers, app);
  const warm = mat(found, vessel, answers);
  const tell = h('input', { type: 'text', inputmode: 'url', autocomplete: 'off', spellcheck: 'false', placeholder: 'ntfy://…' });
  const last = h('section', { class: 'block' });
  form.append(vessel.el, deep.el, warm.el,
    block(t('new_vessel.tell_title'), h('p', {}, t('new_vessel.tell_text')), field(t('new_vessel.tell'), tell, t('new_vessel.tell_hint'))),
    h('div', { class: 'row' }, h('button', { class: 'strong' }, t('new_vessel.look_over'))), last);

  function gather() {
    return { ...answers, ...vessel.read(), ...deep.read(), ...warm.read(), tell: tell.value.trim(), us: taste.temperature === 'f' };
  }

  async function draft() {
    const all = gather();
    const said = await app.change(() => post('walk/draft', all));
    if (!said) return;
    const keep = h('button', { type: 'button', class: 'strong', onclick: () => keepIt(all, keep) }, t('new_vessel.keep'));
    last.replaceChildren(h('h2', {}, t('new_vessel.last_title')), h('p', {}, t('new_vessel.last_text')),
      h('pre', { class: 'lines', tabindex: '0', 'aria-label': t('new_vessel.lines') }, said.difference),
      h('ul', {}, said.notes.map((n) => h('li', {}, n))),
      found.blocked ? h('p', { class: 'wrong' }, reason(found.blocked)) : h('div', { class: 'row' }, keep));
    last.scrollIntoView({ block: 'start' });
  }

  async function keepIt(all, button) {
    button.disabled = true;
    const done = await app.change(() => post('walk/keep', all).then(() => true));
    button.disabled = false;
    if (!done) return;
    app.announce(t('new_vessel.saved', { name: all.name }));
    last.replaceChildren(h('h2', {}, t('new_vessel.kept_title')), h('p', {}, t('new_vessel.saved', { name: all.name })), h('div', { class: 'row' }, h('a', { class: 'button strong', href: '#/now' }, t('new_vessel.go_on'))));
  }
  return [...parts, form];
}

const block = (title, ...rest) => h('section', { class: 'block' }, h('h2', {}, title), ...rest);

// board says what hangs on it, and reads a sensor when it is asked to.
function board(found, again, app) {
  const line = (x) => {
    const says = h('span', { class: 'quiet', role: 'status' });
    const button = h('button', { type: 'button', 'aria-label': t('new_vessel.read_this', { what: x.says }), onclick: async () => {
      button.disabled = true;
      const r = await app.change(() => post('walk/reading', { sensor: x.key }));
      button.disabled = false;
      if (r) say(says, r.failed ? t('new_vessel.reads_failed', { value: value(r), failed: r.failed }) : t('new_vessel.reads', { value: value(r) }));
    } }, t('new_vessel.read'));
    return h('li', { 'data-state': 'ok' }, h('p', {}, sentence(x.says)), h('div', { class: 'row' }, button, says));
  };
  return block(t('new_vessel.board_title'),
    found.sensors.length ? h('ul', { class: 'checks' }, found.sensors.map(line)) : h('p', {}, t('new_vessel.nothing')),
    found.amiss.length > 0 && h('ul', { class: 'checks' }, found.amiss.map((c) => h('li', { 'data-state': c.state },
      h('p', {}, h('strong', {}, c.name), ' ', c.says), c.do && h('p', { class: 'todo' }, sentence(c.do))))),
    h('div', { class: 'row' }, again));
}

const value = (r) => (r.unit === 'mm' ? length(r.value) : degrees(r.value));

// select is a list to choose one of.
function select(list) {
  return h('select', {}, list.map(([v, text]) => h('option', { value: v }, text)));
}

// which asks for the vessel and who looks at it.
function which(rangers, probes, answers) {
  const name = h('input', { type: 'text', required: true, maxlength: 40, autocomplete: 'off' });
  const eye = select(rangers.map((x) => [x.key, x.says]));
  const probe = select([...probes.map((x) => [x.key, x.says]), ['', t('new_vessel.no_probe')]]);
  const kind = choices(t('new_vessel.kind'), [['jar', t('new_vessel.jar')], ['bowl', t('new_vessel.bowl')]], 'jar', (v) => { answers.kind = v; });
  return {
    el: block(t('new_vessel.vessel_title'), field(t('new_vessel.name'), name, t('new_vessel.name_hint')), h('div', { class: 'field' }, kind), field(t('new_vessel.eye'), eye), field(t('new_vessel.probe'), probe, t('new_vessel.probe_hint'))),
    eye,
    read: () => ({ name: name.value.trim(), distance: eye.value, temperature: probe.value }),
  };
}

// The usual straight jars: litres to the brim, width and height inside, mm.
// The sizes are common practice; the litres follow from the other two.
const SHAPES = [[0.5, 80, 100], [0.75, 90, 120], [0.75, 80, 150], [1, 95, 140], [1.5, 105, 175], [2, 120, 180]];

// depth measures down to the floor of the empty vessel.
function depth(vessel, answers, app) {
  const inside = h('input', { type: 'number', inputmode: 'decimal', min: 0, max: 2000, step: 'any' });
  const bore = h('input', { type: 'number', inputmode: 'decimal', min: 0, max: 600, step: 'any' });
  const shape = select([['', t('new_vessel.own_shape')], ...SHAPES.map(([litres, wide, high], i) => [String(i), t('new_vessel.shape', { holds: litres, wide, high })])]);
  shape.addEventListener('change', () => {
    const [, wide, high] = SHAPES[shape.value] || [];
    bore.value = wide ? plain(wide / factor(), taste.size === 'us' ? 2 : 0) : '';
    inside.value = high ? plain(high / factor(), taste.size === 'us' ? 2 : 0) : '';
  });
  const says = h('p', { role: 'status' }, t('new_vessel.not_measured'));
  const button = h('button', { type: 'button', onclick: measure }, t('depth.measure'));
  vessel.eye.addEventListener('change', () => { answers.floor_mm = 0; say(says, t('new_vessel.not_measured')); });

  async function measure() {
    button.disabled = true;
    const r = await app.change(() => post('walk/reading', { sensor: vessel.eye.value }));
    button.disabled = false;
    if (!r) return;
    answers.floor_mm = r.value;
    say(says, r.spread > 8 ? t('depth.shaky', { depth: r.value, spread: r.spread }) : t('depth.measured', { depth: r.value }));
  }
  const factor = () => (taste.size === 'us' ? 25.4 : 1);
  return {
    el: block(t('new_vessel.depth_title'), h('p', {}, t('depth.text')), says, h('div', { class: 'row' }, button),
      field(t('new_vessel.shapes'), shape, t('new_vessel.shapes_hint')),
      h('div', { class: 'two' }, field(t(taste.size === 'us' ? 'new_vessel.bore_inch' : 'new_vessel.bore'), bore, t('new_vessel.bore_hint')),
        field(t(taste.size === 'us' ? 'new_vessel.inside_inch' : 'new_vessel.inside'), inside, t('new_vessel.inside_hint')))),
    read: () => ({ floor_mm: answers.floor_mm, height_mm: (Number(inside.value) || 0) * factor(), bore_mm: (Number(bore.value) || 0) * factor() }),
  };
}

// mat asks what switches the mat. Its cautions are read and ticked first.
function mat(found, vessel, answers) {
  if (found.has_mat) return { el: block(t('new_vessel.mat_title'), h('p', {}, t('new_vessel.mat_there'))), read: () => ({ mat: 'none' }) };
  const line = select(found.lines.map((n) => [String(n), t('new_vessel.line_number', { n })]));
  const recipe = select(found.recipes.map((r) => [r, r]));
  const topic = h('input', { type: 'text', autocomplete: 'off', spellcheck: 'false' });
  const tick = h('input', { type: 'checkbox' });
  const ofLine = h('div', { hidden: true }, field(t('new_vessel.line'), line, t('new_vessel.line_hint')));
  const ofPlug = h('div', { hidden: true }, field(t('new_vessel.recipe'), recipe, t('new_vessel.recipe_hint')), field(t('new_vessel.topic'), topic, t('new_vessel.topic_hint')));
  const toRead = h('div', { hidden: true }, h('h3', {}, t('caution.title')), ...cautions(found, tick));
  const kind = choices(t('new_vessel.mat_title'), [['none', t('new_vessel.mat_none')], ['plug', t('new_vessel.mat_plug')], ['gpio', t('new_vessel.mat_line')]], 'none', (v) => {
    answers.mat = v;
    show(ofLine, v === 'gpio');
    show(ofPlug, v === 'plug');
    show(toRead, v !== 'none');
    set(tick, 'required', v !== 'none');
    set(topic, 'required', v === 'plug');
  });
  return {
    el: block(t('new_vessel.mat_title'), h('p', {}, t('new_vessel.mat_text')), kind, ofPlug, ofLine, toRead),
    read: () => ({ mat: answers.mat, line: Number(line.value), recipe: answers.mat === 'plug' ? recipe.value : '', topic: topic.value.trim(), cautions_accepted: tick.checked }),
  };
}
