// Small helpers to build the page. Nothing here ever takes HTML text. All text
// goes through firm, the daemon's sentences as well as the page's own words.

const SVG = 'http://www.w3.org/2000/svg';

// A number and its unit, and the parts of a ratio, stay on one line.
const UNITS = /(\d) (?=(?:°[CF]|%|mm|cm|kg|g|oz|in|ml|l|qt|s|min|h|am|pm|W|Wh|kWh|kB|MB|GB|px|days?|weeks?|times)(?![\p{L}\d]))/gu;
const SPAN = /(\d\u00a0(?:h|days?)) (?=\d+\u00a0(?:min|h))/g;
const RATIO = /(\d) : (?=\d)/g;
export const firm = (text) => text.replace(UNITS, '$1\u00a0').replace(SPAN, '$1\u00a0').replace(RATIO, '$1\u00a0:\u00a0');

// h makes an element: h('p', {class: 'quiet'}, 'text', child).
export function h(tag, props = {}, ...children) {
  return fill(document.createElement(tag), props, children);
}

// s is h for SVG.
export function s(tag, props = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), props, children);
}

function fill(el, props, children) {
  for (const [name, value] of Object.entries(props)) {
    if (name.startsWith('on')) el.addEventListener(name.slice(2), value);
    else set(el, name, value);
  }
  el.append(...children.flat().filter((c) => c !== null && c !== undefined && c !== false).map((c) => (c instanceof Node ? c : firm(String(c)))));
  return el;
}

// set writes an attribute only where it changes; null, undefined and false take it away.
export function set(el, name, value) {
  if (value === null || value === undefined || value === false) {
    if (el.hasAttribute(name)) el.removeAttribute(name);
    return;
  }
  const text = value === true ? '' : String(value);
  if (el.getAttribute(name) !== text) el.setAttribute(name, text);
}

// say writes text only where it changes, so that a screen reader and a
// selection are left alone.
export function say(el, text) {
  const firmed = firm(text ?? '');
  if (el.textContent !== firmed) el.textContent = firmed;
}

// show hides or shows.
export function show(el, visible) {
  if (el.hidden === visible) el.hidden = !visible;
}

// keep matches the children of parent to a list by key: what stays is
// updated in place, so that focus never jumps.
export function keep(parent, list, key, make, update) {
  const old = new Map([...parent.children].map((el) => [el.dataset.key, el]));
  let place = null;
  for (const item of list) {
    const k = String(key(item));
    let el = old.get(k);
    old.delete(k);
    if (!el) {
      el = make(item);
      el.dataset.key = k;
    }
    update(el, item);
    const next = place ? place.nextSibling : parent.firstChild;
    if (el !== next) parent.insertBefore(el, next);
    place = el;
  }
  for (const el of old.values()) el.remove();
}

// ask opens a dialog and resolves with what its form's buttons said.
export function ask(dialog) {
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener('close', () => {
      dialog.remove();
      resolve(dialog.returnValue);
    });
  });
}
