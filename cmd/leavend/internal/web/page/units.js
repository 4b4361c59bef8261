// How temperatures, weights and sizes are written. Everything arrives in metric
// units.

import { language, styles, t } from './text.js';
import { taste } from './taste.js';

// sentence dresses a daemon's words: a capital in front, a full stop behind.
export const sentence = (text) => (text ? text[0].toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? '' : '.') : '');

// short is how many decimals a warmth needs.
const short = (c) => (taste.temperature !== 'f' && Math.abs(c - Math.round(c)) > 0.05 ? 1 : 0);

const fixed = (v, digits) => new Intl.NumberFormat(language.locale, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(v);
const none = (v) => v === null || v === undefined || Number.isNaN(v);

export const toF = (c) => c * 9 / 5 + 32;
export const degreesOf = (c) => (taste.temperature === 'f' ? toF(c) : c);
export const degreesIn = (v) => (taste.temperature === 'f' ? (v - 32) * 5 / 9 : v);
export const degreeSign = () => (taste.temperature === 'f' ? '°F' : '°C');

// degrees writes a temperature, 25.4 °C.
export const degrees = (c, digits = 1) => (none(c) ? t('number.unknown') : `${fixed(degreesOf(c), digits)}\u00a0${degreeSign()}`);

// grams writes a weight. What weighs little has a decimal more in ounces: a tenth
// of one would make 11 g of salt of 10.
export function grams(g) {
  if (none(g)) return t('number.unknown');
  const oz = g / 28.349523125;
  return taste.weight === 'oz' ? `${fixed(oz, oz >= 1.95 ? 1 : 2)}\u00a0oz` : `${fixed(g, 0)}\u00a0g`;
}
export const gramsIn = (v) => (taste.weight === 'oz' ? v * 28.349523125 : v);
export const gramsOut = (g) => (taste.weight === 'oz' ? Math.round(g / 28.349523125 * 10) / 10 : Math.round(g * 10) / 10);
export const weightSign = () => (taste.weight === 'oz' ? 'oz' : 'g');

// length writes a height.
export const length = (mm) => (none(mm) ? t('number.unknown') : taste.size === 'us' ? `${fixed(mm / 25.4, 2)}\u00a0in` : `${fixed(mm, 0)}\u00a0mm`);

// volume writes what a vessel holds; a US quart is 0.946352946 l exactly.
export const volume = (l) => (taste.size === 'us' ? `${fixed(l / 0.946352946, 1)}\u00a0qt` : `${plain(l, l % 1 ? 2 : 0).replace(/0$/, '')}\u00a0l`);

// times writes a rise ratio, 1.86×.
export const times = (r, digits = 2) => (none(r) ? t('number.unknown') : `${fixed(r, digits)}×`);
export const percent = (share) => (none(share) ? t('number.unknown') : `${fixed(share * 100, 0)}\u00a0%`);
export const plain = (v, digits = 0) => (none(v) ? t('number.unknown') : fixed(v, digits));

// writeUnits has sentences write their values so; the page calls it once, before any screen.
export const writeUnits = () => Object.assign(styles, {
  temp: degrees, degrees: (c) => degrees(c, short(c)), warmer: (k) => `${fixed(taste.temperature === 'f' ? k * 1.8 : k, 1)}°`,
  weight: grams, length, volume, ratio: times, percent, number: (v) => new Intl.NumberFormat(language.locale, { maximumFractionDigits: 3 }).format(v),
  count: (v) => new Intl.NumberFormat(language.locale).format(v),
});
