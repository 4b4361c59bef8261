// Flours by their names. Those that every baker knows are stored by one word,
// whatever the language; others as the baker calls them.

import { h } from './dom.js';
import { has, t } from './text.js';

const KNOWN = ['wheat', 'whole wheat', 'rye', 'whole rye', 'spelt', 'whole spelt'];
const key = (kind) => `plan.ingredient.${kind.toLowerCase().replaceAll(' ', '_')}`;

// flourName is what a stored flour is called.
export const flourName = (kind) => (has(key(kind)) ? t(key(kind)) : kind);

// flourKind is how a flour of that name is stored.
export const flourKind = (name) => KNOWN.find((kind) => flourName(kind).toLowerCase() === name.trim().toLowerCase()) || name.trim();

// flourInput takes the name of a flour, and offers those that are known.
export function flourInput(kind) {
  const list = document.getElementById('flours') || document.body.appendChild(h('datalist', { id: 'flours' }, KNOWN.map((k) => h('option', { value: flourName(k) }))));
  const input = h('input', { type: 'text', maxlength: 60, autocomplete: 'off', list: list.id });
  input.value = flourName(kind);
  return input;
}
