// Sentences by key, in the reader's language. The daemon sends the catalogue;
// units.js says how the values in it are written.

const catalogue = { sentences: {}, plural: null, parts: new Set() };

// language holds the code of the catalogue and the locale of its numbers and dates.
export const language = { code: 'en', locale: 'en-GB' };

// styles write a value for its place in a sentence, by the name behind the colon.
export const styles = {};

// loadText fetches the language that the document was written in, or those of its
// sentences that only one part of the page says; once.
export async function loadText(part = '') {
  const code = document.documentElement.lang;
  if (catalogue.parts.has(part)) return;
  const first = !part && await window.sentences.catch(() => null);
  join(catalogue.sentences, await (first?.ok ? first : await fetch(`text/${code}${part && `-${part}`}.json`)).json());
  catalogue.parts.add(part);
  catalogue.plural = new Intl.PluralRules(code);
  language.code = code;
  language.locale = catalogue.sentences.locale;
}

// join puts the groups of one part of the catalogue beside those of another.
function join(groups, more) {
  for (const [name, value] of Object.entries(more)) {
    if (typeof value === 'object' && name in groups) join(groups[name], value);
    else groups[name] = value;
  }
}

// t writes the sentence of a key: t('now.between', { low, high }).
export function t(key, args = {}) {
  const found = sentenceOf(key);
  if (found === undefined) return key;
  const form = typeof found === 'string' ? found : found[catalogue.plural.select(counted(found.other, args))] || found.other;
  return form.replace(/\{(\w+)(?::(\w+))?\}/g, (_, name, style) => write(args[name], style));
}

const counted = (form, args) => args[/\{(\w+):count\}/.exec(form)[1]];

function write(value, style) {
  if (value === null || value === undefined) return t('number.unknown');
  if (Array.isArray(value)) return style === 'sentences' ? value.map(message).join(' ') : list(value.map((v) => write(v)));
  if (value.key) return style === 'capital' ? capital(message(value)) : message(value);
  if (style === 'capital') return capital(String(value));
  return style && styles[style] ? styles[style](value) : String(value);
}

// capital begins a text with a capital letter.
export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

// stage is the name of a step of a bake: the trade's word for it, or the baker's own.
export function stage(name) {
  const key = `plan.stage.${name.startsWith('fold ') ? 'fold' : name.replaceAll(' ', '_')}`;
  return has(key) ? t(key) : name;
}

// has reports whether the catalogue knows a key.
export const has = (key) => sentenceOf(key) !== undefined;

// sentenceOf looks a key up, group by group.
const sentenceOf = (key) => key.split('.').reduce((group, name) => group?.[name], catalogue.sentences);

// message writes what the daemon says as a key with its values. What seldom happens
// has its sentence in the other part of the catalogue; until that is here, the daemon's
// own words do.
export function message(m, otherwise = '') {
  if (!m?.key) return otherwise;
  if (has(m.key)) return t(m.key, m.args);
  missing();
  return otherwise || m.key;
}

let missing = () => {};

// whenMissing has load called once, when the first sentence is missing.
export function whenMissing(load) {
  missing = () => {
    missing = () => {};
    load();
  };
}

// list joins parts with commas and a last "and".
export const list = (parts) => (parts.length < 2 ? parts.join('') : parts.slice(0, -1).join(t('list.comma')) + t('list.and') + parts.at(-1));
