// What is known of a vessel beside its hour: rise, feed, temperature, mat, air.

import { h, say, set, show } from './dom.js';
import { t } from './text.js';
import { ago, ageS, moment } from './times.js';
import { degrees, length } from './units.js';

// factList says the rest in a few short lines; only a reading that is late
// shows its age.
export function factList(bowl) {
  const el = h('dl', { class: 'facts' });
  const line = (key) => {
    const value = h('span');
    const age = h('span', { class: 'age' });
    const name = h('dt');
    const row = h('div', {}, name, h('dd', {}, value, ' ', age));
    el.append(row);
    return (text, at, staleAfter, called = key) => {
      show(row, text !== null);
      if (text === null) return;
      say(name, t(`fact.${called}`));
      const late = at && staleAfter && ageS(at) > staleAfter;
      say(value, text);
      say(age, at && (late || !staleAfter) ? ago(at) : '');
      set(row, 'data-stale', late ? 'yes' : null);
    };
  };
  const rise = line('rise');
  const fed = line(bowl ? 'mixed' : 'fed');
  const warmth = line('temperature');
  const mat = line('mat');
  const air = line('air');
  return {
    el,
    update(v, m) {
      const ratio = v.ratio?.value;
      if (v.ratio) rise(bowl && v.target_ratio ? t('fact.rise_bowl', { ratio, target: v.target_ratio }) : t('fact.rise_jar', { ratio }), v.ratio.at, v.stale_after_s);
      else rise(length(v.height?.value), v.height?.at, v.stale_after_s, 'height');
      fed(v.feed ? moment(v.feed.at) : t('fact.not_yet'), v.feed?.at);
      warmth(v.thermometer_out ? t('fact.no_thermometer') : v.temp ? degrees(v.temp.value) : t('number.unknown'), v.temp?.at, v.stale_after_s);
      mat(m ? matText(m) : null);
      air(v.humidity ? t('fact.humidity', { share: v.humidity.value / 100 }) : null, v.humidity?.at, v.stale_after_s);
    },
  };
}

function matText(m) {
  const to = m.steering_c ?? m.setpoint_c;
  if (m.faults.length > 0) return t('fact.mat_fault');
  if (!m.allowed) return t('fact.mat_forbidden');
  return t(m.on ? 'fact.mat_on' : 'fact.mat_off', { to });
}
