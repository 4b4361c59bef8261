// The temperatures around a mat on one scale.

import { h, say, set, show } from './dom.js';
import { t } from './text.js';
import { ago, ageS } from './times.js';
import { degrees } from './units.js';

const LATE = 120; // seconds from when on a reading shows its age

// gauge shows room, vessel, mat, setpoint and cutoff on one scale of temperature.
export function gauge() {
  const marks = {};
  const track = h('div', { class: 'track', 'aria-hidden': 'true' }, h('div', { class: 'allowed' }));
  const says = h('dl', { class: 'gauge-facts' });
  const rows = {};
  for (const k of ['room', 'setpoint', 'vessel', 'mat', 'cutoff']) {
    marks[k] = h('div', { class: `mark ${k}` });
    track.append(marks[k]);
    rows[k] = [h('dd'), h('span', { class: 'age' })];
    says.append(h('div', {}, h('dt', { class: `key ${k}` }, t(`mat.gauge.${k}`)), h('dd', {}, rows[k][0].firstChild || (rows[k][0] = h('span')), ' ', rows[k][1])));
  }
  return {
    el: h('div', { class: 'gauge' }, track, says),
    update(m) {
      const values = { room: m.room_temp?.value, vessel: m.temp?.value, setpoint: m.steering_c ?? m.setpoint_c, mat: m.mat_temp?.value, cutoff: m.cutoff_c };
      const ages = { room: m.room_temp?.at, vessel: m.temp?.at, mat: m.mat_temp?.at };
      const all = Object.values(values).filter((x) => typeof x === 'number');
      const low = Math.min(14, ...all) - 1;
      const high = Math.max(36, ...all) + 1;
      const share = (c) => `${(100 * (c - low) / (high - low)).toFixed(2)}%`;
      track.firstChild.style.left = share(m.low_c);
      track.firstChild.style.width = `${(100 * (m.high_c - m.low_c) / (high - low)).toFixed(2)}%`;
      for (const [k, c] of Object.entries(values)) {
        const known = typeof c === 'number';
        show(marks[k], known);
        show(rows[k][0].closest('div'), known && k !== 'setpoint'); // that one stands above, with its buttons
        if (!known) continue;
        marks[k].style.left = share(c);
        say(rows[k][0], degrees(c));
        say(rows[k][1], ages[k] && ageS(ages[k]) > LATE ? ago(ages[k]) : '');
        set(rows[k][0], 'class', k === 'vessel' && c >= m.cutoff_c || k === 'mat' && m.mat_cutoff_c !== null && c >= m.mat_cutoff_c ? 'trip' : null);
      }
    },
  };
}
