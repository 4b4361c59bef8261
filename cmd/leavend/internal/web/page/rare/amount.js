// Numbers in the form of a recipe.

import { h } from '../dom.js';

export const round = (x) => Math.round(x * 100) / 100;

// amount is an input for a number; it may be left empty where nothing is meant.
export function amount(value, { max, min = 0, required = true }) {
  const el = h('input', { type: 'number', inputmode: 'decimal', min, max, step: 'any', required });
  el.value = value || value === 0 ? round(value) : '';
  return el;
}
export const of = (input) => Number(input.value) || 0;
