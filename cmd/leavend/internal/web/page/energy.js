// What the mat has drawn, and how far its switch is worn.

import { h, say, set, show } from './dom.js';
import { t } from './text.js';
import { moment, plain } from './units.js';

export function matEnergy() {
  const drawn = h('p', { class: 'quiet energy' });
  const switched = h('p', { class: 'quiet switched' });
  return {
    els: [drawn, switched],
    update(m) {
      const kwh = (x) => `${plain(x, 2)}\u00a0kWh`;
      say(drawn, m.energy.map((e) => t(`energy.${e.of}`)).join(' '));
      show(drawn, m.energy.length > 0);
      say(switched, t('energy.switched'));
      show(switched, m.switches > 0);
      set(switched, 'class', m.switch_worn ? 'wrong switched' : 'quiet switched');
    },
  };
}
