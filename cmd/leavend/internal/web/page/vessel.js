// The drawn jar and bowl: glass, what stands in it, the band that marks the
// height at the feed, and a dashed line where the top is expected. The daemon
// reads the outlines below, for its own picture in the document (picture.go).

import { s, set } from './dom.js';
import { words } from './words.js';
import { times } from './units.js';

let serial = 0;

// Where bubbles sit in the dough: x, depth below the surface (both as shares)
// and size. The same for every jar; how many show depends on the rise.
const BUBBLES = [
  [0.24, 0.2, 3.4], [0.62, 0.14, 2.6], [0.45, 0.36, 4.2], [0.8, 0.3, 3], [0.16, 0.52, 2.4], [0.68, 0.55, 3.8],
  [0.36, 0.68, 2.8], [0.86, 0.7, 2.2], [0.54, 0.82, 3.2], [0.22, 0.86, 2], [0.75, 0.9, 2.4], [0.5, 0.1, 2],
];

const JAR = {
  box: '0 8 120 145.5',
  left: 15, right: 105, floor: 150, brim: 30,
  inside: 'M15 44C15 37 24 35 24 30L96 30C96 35 105 37 105 44L105 138C105 146 99 150 92 150L28 150C21 150 15 146 15 138Z',
  glass: 'M24 20L24 29C24 35 13 35 13 45L13 138C13 147 20 152 28 152L92 152C100 152 107 147 107 138L107 45C107 35 96 35 96 29L96 20',
  rim: 'M21 17.5H99',
  shine: 'M22 52V118M22 126V131',
};
const BOWL = {
  box: '0 12 160 101.5',
  left: 14, right: 146, floor: 110, brim: 34,
  inside: 'M14 -20L146 -20L146 34C143 80 116 110 98 110L62 110C44 110 17 80 14 34Z',
  glass: 'M12 34C15 84 46 112 62 112L98 112C114 112 145 84 148 34',
  rim: 'M8 34H152',
  shine: 'M27 52C32 70 41 84 51 94',
};

// drawVessel makes the picture; update it with the function it carries.
export function drawVessel(kind) {
  const form = kind === 'bowl' ? BOWL : JAR;
  const clip = `inside-${serial += 1}`;
  const dough = s('path', { class: 'dough' });
  const crumb = s('path', { class: 'dough-skin' });
  const bubbles = BUBBLES.map(() => s('circle', { class: 'bubble' }));
  const band = s('rect', { class: 'band', x: form.left - 3, width: form.right - form.left + 6, height: 4, rx: 2 });
  const hope = s('line', { class: 'hope', x1: form.left + 4, x2: form.right - 4 });
  const picture = s('svg', { class: `vessel ${kind}`, viewBox: form.box, role: 'img' },
    s('defs', {}, s('clipPath', { id: clip }, s('path', { d: form.inside }))),
    s('path', { class: 'glass-fill', d: form.glass }),
    s('g', { 'clip-path': `url(#${clip})` }, dough, bubbles, crumb),
    hope, band,
    s('path', { class: 'glass', d: form.glass }),
    s('path', { class: 'shine', d: form.shine }),
    s('path', { class: 'rim', d: form.rim }));
  picture.update = (v) => {
    const y = (mm) => form.floor - (mm / v.inside_mm) * (form.floor - form.brim);
    const known = v.height && v.inside_mm;
    const level = known ? Math.max(form.brim - 14, y(v.height.value)) : form.floor;
    paint(form, level, bulge(v), dough, crumb);
    freckle(form, level, v.ratio ? v.ratio.value : 1, bubbles);
    place(band, 'y', known && v.fed_height_mm ? y(v.fed_height_mm) - 2 : null);
    const goal = v.kind === 'bowl' ? v.target_ratio : v.forecast?.ratio;
    const gy = known && goal && v.fed_height_mm && v.stage === 'rising' ? y(goal * v.fed_height_mm) : null;
    place(hope, 'y1', gy);
    place(hope, 'y2', gy);
    set(picture, 'aria-label', known ? words.pictureOf(v, times(v.ratio?.value)) : words.pictureEmpty(v));
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

function paint(form, level, dome, dough, crumb) {
  const { left, right, floor } = form;
  const mid = (left + right) / 2;
  const edge = `M${left} ${level.toFixed(1)}Q${mid} ${(level - 2 * dome).toFixed(1)} ${right} ${level.toFixed(1)}`;
  set(dough, 'd', `${edge}V${floor + 2}H${left}Z`);
  set(crumb, 'd', edge);
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
