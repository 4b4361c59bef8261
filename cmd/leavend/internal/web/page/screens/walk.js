// The way from a bare board to a watched jar, one question after another.
// Nothing is written before the last step.

import { h, say, set, show } from '../dom.js';
import { words } from '../words.js';
import { choices, field } from '../parts.js';
import { degrees, length, plain, sentence, taste, volume } from '../units.js';
import { post, read } from '../api.js';

export function open(root, app) {
  const steps = h('div', {});
  const again = h('button', { type: 'button', onclick: look }, words.walk.lookAgain);
  const wait = h('p', { class: 'quiet', role: 'status' }, words.walk.looking);
  root.append(h('div', { class: 'sheet' }, h('h1', {}, words.walk.title), h('p', {}, words.walk.lead), wait, steps));
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
  if (!rangers.length) return [...parts, h('p', {}, words.walk.noRanger)];
  const form = h('form', { onsubmit: (e) => { e.preventDefault(); draft(); } });
  const vessel = which(rangers, probes, answers);
  const deep = depth(vessel, answers, app);
  const warm = mat(found, vessel, answers);
  const tell = h('input', { type: 'text', inputmode: 'url', autocomplete: 'off', spellcheck: 'false', placeholder: 'ntfy://…' });
  const last = h('section', { class: 'block' });
  form.append(vessel.el, deep.el, warm.el,
    block(words.walk.tellTitle, h('p', {}, words.walk.tellText), field(words.walk.tell, tell, words.walk.tellHint)),
    h('div', { class: 'row' }, h('button', { class: 'strong' }, words.walk.lookOver)), last);

  function gather() {
    return { ...answers, ...vessel.read(), ...deep.read(), ...warm.read(), tell: tell.value.trim(), us: taste.units === 'us' };
  }

  async function draft() {
    const all = gather();
    const said = await app.change(() => post('walk/draft', all));
    if (!said) return;
    const keep = h('button', { type: 'button', class: 'strong', onclick: () => keepIt(all, keep) }, words.walk.keep);
    last.replaceChildren(h('h2', {}, words.walk.lastTitle), h('p', {}, words.walk.lastText),
      h('pre', { class: 'lines', tabindex: '0', 'aria-label': words.walk.lines }, said.difference),
      h('ul', {}, said.notes.map((n) => h('li', {}, n))),
      found.blocked ? h('p', { class: 'wrong' }, found.blocked) : h('div', { class: 'row' }, keep));
    last.scrollIntoView({ block: 'start' });
  }

  async function keepIt(all, button) {
    button.disabled = true;
    const done = await app.change(() => post('walk/keep', all).then(() => true));
    button.disabled = false;
    if (!done) return;
    app.announce(words.walk.kept(all.name));
    last.replaceChildren(h('h2', {}, words.walk.keptTitle), h('p', {}, words.walk.kept(all.name)), h('div', { class: 'row' }, h('a', { class: 'button strong', href: '#/now' }, words.walk.goOn)));
  }
  return [...parts, form];
}

const block = (title, ...rest) => h('section', { class: 'block' }, h('h2', {}, title), ...rest);

// board says what hangs on it, and reads a sensor when it is asked to.
function board(found, again, app) {
  const line = (x) => {
    const says = h('span', { class: 'quiet', role: 'status' });
    const button = h('button', { type: 'button', 'aria-label': words.walk.readThis(x.says), onclick: async () => {
      button.disabled = true;
      const r = await app.change(() => post('walk/reading', { sensor: x.key }));
      button.disabled = false;
      if (r) say(says, words.walk.itReads(value(r), r.failed));
    } }, words.walk.read);
    return h('li', { 'data-state': 'ok' }, h('p', {}, sentence(x.says)), h('div', { class: 'row' }, button, says));
  };
  return block(words.walk.boardTitle,
    found.sensors.length ? h('ul', { class: 'checks' }, found.sensors.map(line)) : h('p', {}, words.walk.nothing),
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
  const probe = select([...probes.map((x) => [x.key, x.says]), ['', words.walk.noProbe]]);
  const kind = choices(words.walk.kind, [['jar', words.walk.jar], ['bowl', words.walk.bowl]], 'jar', (v) => { answers.kind = v; });
  return {
    el: block(words.walk.vesselTitle, field(words.walk.name, name, words.walk.nameHint), h('div', { class: 'field' }, kind), field(words.walk.eye, eye), field(words.walk.probe, probe, words.walk.probeHint)),
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
  const shape = select([['', words.walk.ownShape], ...SHAPES.map(([litres, wide, high], i) => [String(i), words.walk.shape(volume(litres), length(wide), length(high))])]);
  shape.addEventListener('change', () => {
    const [, wide, high] = SHAPES[shape.value] || [];
    bore.value = wide ? plain(wide / factor(), taste.units === 'us' ? 2 : 0) : '';
    inside.value = high ? plain(high / factor(), taste.units === 'us' ? 2 : 0) : '';
  });
  const says = h('p', { role: 'status' }, words.walk.notMeasured);
  const button = h('button', { type: 'button', onclick: measure }, words.walk.measure);
  vessel.eye.addEventListener('change', () => { answers.floor_mm = 0; say(says, words.walk.notMeasured); });

  async function measure() {
    button.disabled = true;
    const r = await app.change(() => post('walk/reading', { sensor: vessel.eye.value }));
    button.disabled = false;
    if (!r) return;
    answers.floor_mm = r.value;
    say(says, r.spread > 8 ? words.walk.shaky(length(r.value), length(r.spread)) : words.walk.measured(length(r.value)));
  }
  const factor = () => (taste.units === 'us' ? 25.4 : 1);
  return {
    el: block(words.walk.depthTitle, h('p', {}, words.walk.depthText), says, h('div', { class: 'row' }, button),
      field(words.walk.shapes, shape, words.walk.shapesHint),
      h('div', { class: 'two' }, field(taste.units === 'us' ? words.walk.boreInch : words.walk.bore, bore, words.walk.boreHint),
        field(taste.units === 'us' ? words.walk.insideInch : words.walk.inside, inside, words.walk.insideHint))),
    read: () => ({ floor_mm: answers.floor_mm, height_mm: (Number(inside.value) || 0) * factor(), bore_mm: (Number(bore.value) || 0) * factor() }),
  };
}

// mat asks what switches the mat. Its cautions are read and ticked first.
function mat(found, vessel, answers) {
  if (found.has_mat) return { el: block(words.walk.matTitle, h('p', {}, words.walk.matThere)), read: () => ({ mat: 'none' }) };
  const line = select(found.lines.map((n) => [String(n), words.walk.lineNumber(n)]));
  const recipe = select(found.recipes.map((r) => [r, r]));
  const topic = h('input', { type: 'text', autocomplete: 'off', spellcheck: 'false' });
  const tick = h('input', { type: 'checkbox' });
  const ofLine = h('div', { hidden: true }, field(words.walk.line, line, words.walk.lineHint));
  const ofPlug = h('div', { hidden: true }, field(words.walk.recipe, recipe, words.walk.recipeHint), field(words.walk.topic, topic, words.walk.topicHint));
  const cautions = h('div', { hidden: true }, h('h3', {}, words.mat.cautionsTitle), h('ul', { class: 'cautions' }, found.cautions.map((c) => h('li', {}, c))), h('label', { class: 'tick' }, tick, words.mat.cautionsAccept));
  const kind = choices(words.walk.matTitle, [['none', words.walk.matNone], ['plug', words.walk.matPlug], ['gpio', words.walk.matLine]], 'none', (v) => {
    answers.mat = v;
    show(ofLine, v === 'gpio');
    show(ofPlug, v === 'plug');
    show(cautions, v !== 'none');
    set(tick, 'required', v !== 'none');
    set(topic, 'required', v === 'plug');
  });
  return {
    el: block(words.walk.matTitle, h('p', {}, words.walk.matText), kind, ofPlug, ofLine, cautions),
    read: () => ({ mat: answers.mat, line: Number(line.value), recipe: answers.mat === 'plug' ? recipe.value : '', topic: topic.value.trim(), cautions_accepted: tick.checked }),
  };
}
