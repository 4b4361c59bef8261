// The drawn jar and bowl: glass, what stands in it, the band that marks the
// height at the feed, and a dashed line where the peak is expected. The
// drawings stand in the document as templates, and the daemon fills the same
// ones for the first picture.

import { s, set } from './dom.js';
import { message, t } from './text.js';

let serial = 0;

// Where bubbles sit in the dough: x, depth below the surface (both as shares)
// and size. The same for every jar; how many show depends on the rise.
const BUBBLES = [
  [0.24, 0.2, 3.4], [0.62, 0.14, 2.6], [0.45, 0.36, 4.2], [0.8, 0.3, 3], [0.16, 0.52, 2.4], [0.68, 0.55, 3.8],
  [0.36, 0.68, 2.8], [0.86, 0.7, 2.2], [0.54, 0.82, 3.2], [0.22, 0.86, 2], [0.75, 0.9, 2.4], [0.5, 0.1, 2],
];

// drawVessel makes the picture; update it with the function it carries.
export function drawVessel(kind) {
  const picture = document.getElementById(`draw-${kind}`).content.firstElementChild.cloneNode(true);
  const part = (name) => picture.querySelector(`.${name}`);
  const form = Object.fromEntries(['left', 'right', 'floor', 'brim'].map((k) => [k, Number(picture.dataset[k])]));
  const clip = `inside-${serial += 1}`;
  set(part('inside'), 'id', clip);
  set(part('content'), 'clip-path', `url(#${clip})`);
  set(picture, 'role', 'img');
  set(part('band'), 'x', form.left - 3);
  set(part('band'), 'width', form.right - form.left + 6);
  const bubbles = BUBBLES.map(() => s('circle', { class: 'bubble' }));
  part('dough').after(...bubbles);
  picture.update = (v) => {
    const y = (mm) => form.floor - (mm / v.inside_mm) * (form.floor - form.brim);
    const known = v.height && v.inside_mm;
    const level = known ? Math.max(form.brim - 14, y(v.height.value)) : form.floor;
    paint(form, level, bulge(v), part('dough'), part('dough-skin'));
    freckle(form, level, v.ratio ? v.ratio.value : 1, bubbles);
    place(part('band'), 'y', known && v.fed_height_mm ? y(v.fed_height_mm) - 2 : null);
    const goal = v.kind === 'bowl' ? v.target_ratio : v.forecast?.ratio;
    const gy = known && goal && v.fed_height_mm && v.stage === 'rising' ? y(goal * v.fed_height_mm) : null;
    place(part('hope'), 'y1', gy);
    place(part('hope'), 'y2', gy);
    set(picture, 'aria-label', known ? t(`now.picture.${v.kind}`, { name: v.name, stage: message(v.says.stage), ratio: v.ratio?.value }) : t('now.picture_unknown', { name: v.name }));
  };
  return picture;
}

function place(el, name, value) {
  set(el, 'visibility', value === null ? 'hidden' : null);
  if (value !== null) set(el, name, value.toFixed(1));
}

// bulge is how far the middle stands above the edge: a dome while it rises,
// a hollow once it has fallen.
const BULGE = { rising: 6, top: 4, target: 6, falling: -7 };
const bulge = (v) => (BULGE[v.stage] ?? 1) * (v.kind === 'bowl' ? 2 : 1);

function paint({ left, right, floor }, level, dome, dough, skin) {
  const mid = (left + right) / 2;
  const edge = `M${left} ${level.toFixed(1)}Q${mid} ${(level - 2 * dome).toFixed(1)} ${right} ${level.toFixed(1)}`;
  set(dough, 'd', `${edge}V${floor + 2}H${left}Z`);
  set(skin, 'd', edge);
}

function freckle(form, level, ratio, bubbles) {
  const many = Math.round(Math.min(1, Math.max(0, (ratio - 1) / 0.9)) * bubbles.length);
  const depth = form.floor - level;
  bubbles.forEach((b, i) => {
    const [x, d, r] = BUBBLES[i];
    set(b, 'visibility', i < many && depth > 20 ? null : 'hidden');
    set(b, 'cx', (form.left + 8 + x * (form.right - form.left - 16)).toFixed(1));
    set(b, 'cy', (level + 6 + d * (depth - 12)).toFixed(1));
    set(b, 'r', r);
  });
}
