// What the mat has drawn, and how far its switch is worn.

import { h, say, set, show } from './dom.js';
import { t } from './text.js';
import { plain } from './units.js';

export function matEnergy() {
  const drawn = h('p', { class: 'quiet energy' });
  const switched = h('p', { class: 'quiet switched' });
  return {
    els: [drawn, switched],
    update(m) {
      say(drawn, m.energy.map((e) => t(`energy.${e.of}`, { kwh: plain(e.kwh, 2), from: e.from, to: e.to })).join(' '));
      show(drawn, m.energy.length > 0);
      say(switched, [t('energy.switched', { n: m.switches }), m.switch_life && t('energy.life', { n: m.switch_life }), m.switch_worn && t('energy.worn')].filter(Boolean).join(' '));
      show(switched, m.switches > 0);
      set(switched, 'class', m.switch_worn ? 'wrong switched' : 'quiet switched');
    },
  };
}
