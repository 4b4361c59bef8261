// The amounts of a feed.

import { h } from './dom.js';
import { t } from './text.js';
import { flourName } from './flours.js';
import { grams } from './units.js';

export const flourOf = (f) => f.flours.reduce((s, x) => s + x.grams, 0);

// mixOf is a feed's amounts in one line, "" where none were saved.
export function mixOf(f) {
  if (!f.kept_g && !f.water_g && !flourOf(f)) return '';
  const flours = f.flours.map((x) => `${grams(x.grams)} ${flourName(x.kind)}`).join(', ');
  const ratio = f.outcome?.ratio?.replaceAll(' ', '\u00a0');
  return t(ratio ? 'feeds.mix_ratio' : 'feeds.mix', { kept: f.kept_g, flours: flours || t('number.unknown'), water: f.water_g, ratio });
}

// number is an input for an amount.
export const number = (value, most) => {
  const el = h('input', { type: 'number', inputmode: 'decimal', min: 0, max: most, step: 'any' });
  el.value = value || '';
  return el;
};

export const round = (x) => Math.round(x * 100) / 100;
