// The setpoint of a mat, with a button to either side.

import { h, say, show } from './dom.js';
import { t } from './text.js';
import { taste } from './taste.js';
import { degrees, degreesIn, degreesOf, degreeSign, plain } from './units.js';
import { put } from './api.js';

// setpoint changes in half degrees and takes effect when it is confirmed.
export function setpoint(mat, app, at) {
  let wish = null; // in the baker's own unit, while it differs
  const value = h('output', { class: 'dial-value' });
  const step = () => (taste.temperature === 'f' ? 1 : 0.5);
  const limits = () => [Math.ceil(degreesOf(mat().low_c) / step()) * step(), Math.floor(degreesOf(mat().high_c) / step()) * step()];
  const present = () => Math.round(degreesOf(mat().setpoint_c) / step()) * step();
  const turn = (by) => {
    const [low, high] = limits();
    wish = Math.min(high, Math.max(low, (wish ?? present()) + by * step()));
    update();
  };
  const less = h('button', { type: 'button', class: 'turn', 'aria-label': t('mat.cooler'), onclick: () => turn(-1) }, '−');
  const more = h('button', { type: 'button', class: 'turn', 'aria-label': t('mat.warmer'), onclick: () => turn(1) }, '+');
  const confirm = h('button', { type: 'button', class: 'strong', onclick: save }, '');
  const hint = h('p', { class: 'hint' });

  async function save() {
    const c = Math.round(degreesIn(wish) * 100) / 100;
    const done = await app.change(() => put(at('setpoint'), { setpoint_c: c }).then(() => true));
    if (!done) return;
    app.announce(t('mat.set_to', { to: c }));
    mat().setpoint_c = c;
    wish = null;
    update();
  }

  function update() {
    const m = mat();
    const shown = wish ?? degreesOf(m.setpoint_c);
    const changed = wish !== null && Math.abs(wish - degreesOf(m.setpoint_c)) > 0.05;
    say(value, `${plain(shown, 1)} ${degreeSign()}`);
    say(confirm, t('mat.set', { to: value.textContent }));
    show(confirm, changed);
    const [low, high] = limits();
    less.disabled = shown <= low;
    more.disabled = shown >= high;
    say(hint, t('mat.limits', { low: degrees(m.low_c, 0), high: degrees(m.high_c, 0), hysteresis: m.hysteresis_c }));
  }
  return { el: h('div', { class: 'dial', role: 'group', 'aria-label': t('mat.gauge.setpoint') }, less, value, more, confirm, hint), update };
}
