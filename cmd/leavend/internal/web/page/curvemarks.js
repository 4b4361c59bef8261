// The marks on a curve: feeds, the peak, the fall after it, faults, new starters.
// Each has a shape of its own, so that colour is never the only sign.

import { fade } from './chart.js';
import { heightsOnly } from './smooth.js';

// drawMarks: a feed is a triangle hanging from the top with a line below
// it, a top a ring on the curve, a fall an arrow head below it, a fault a cross, a new
// starter a double line.
export function drawMarks(u, c, data, from, to) {
  const { ctx, bbox } = u;
  const px = devicePixelRatio;
  const near = data.marks.length > 60 ? 0.5 : 1;
  ctx.save();
  ctx.setLineDash([]); // the last line's dashes are not ours
  for (const m of data.marks) {
    const t = Date.parse(m.at) / 1000;
    if (t < from || t > to) continue;
    const x = u.valToPos(t, 'x', true);
    if (m.kind === 'fed') feedMark(ctx, c, x, bbox, px * near);
    else if (m.kind === 'top' || m.kind === 'target') ring(ctx, c, x, ringAt(u, data, t, bbox, px), px * near);
    else if (m.kind === 'collapse') arrowHead(ctx, c, x, ringAt(u, data, t, bbox, px) + 12 * px, px * near);
    else if (m.kind === 'starter') doubleLine(ctx, c, x, bbox, px);
    else cross(ctx, c, x, bbox.top + 12 * px, px);
  }
  ctx.restore();
}

// ringAt is the height of the curve at a moment, or the upper edge where
// the curve has a gap.
function ringAt(u, data, t, bbox, px) {
  let low = 0;
  let high = data.at.length - 1;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (data.at[mid] < t) low = mid + 1;
    else high = mid;
  }
  const value = heightsOnly(data) ? data.height_mm[low] : data.ratio_high[low] ?? data.ratio[low];
  return value === null || value === undefined ? bbox.top + 14 * px : u.valToPos(value, 'r', true);
}

function arrowHead(ctx, c, x, y, px) {
  ctx.beginPath();
  ctx.moveTo(x - 6 * px, y);
  ctx.lineTo(x, y + 6 * px);
  ctx.lineTo(x + 6 * px, y);
  ctx.lineWidth = 2.5 * px;
  ctx.strokeStyle = c.leaf;
  ctx.stroke();
}

function feedMark(ctx, c, x, box, px) {
  ctx.strokeStyle = fade(c.band, 0.55);
  ctx.lineWidth = px;
  ctx.beginPath();
  ctx.moveTo(x, box.top);
  ctx.lineTo(x, box.top + box.height);
  ctx.stroke();
  ctx.fillStyle = c.band;
  ctx.beginPath();
  ctx.moveTo(x - 7 * px, box.top - 2 * px);
  ctx.lineTo(x + 7 * px, box.top - 2 * px);
  ctx.lineTo(x, box.top + 10 * px);
  ctx.fill();
}

function ring(ctx, c, x, y, px) {
  ctx.beginPath();
  ctx.arc(x, y, 6 * px, 0, 2 * Math.PI);
  ctx.fillStyle = c.flour;
  ctx.fill();
  ctx.strokeStyle = c.leaf;
  ctx.lineWidth = 3 * px;
  ctx.stroke();
}

function doubleLine(ctx, c, x, box, px) {
  ctx.strokeStyle = c.band;
  ctx.lineWidth = 2 * px;
  ctx.beginPath();
  for (const side of [-2.5, 2.5]) {
    ctx.moveTo(x + side * px, box.top);
    ctx.lineTo(x + side * px, box.top + box.height);
  }
  ctx.stroke();
}

function cross(ctx, c, x, y, px) {
  ctx.strokeStyle = c.beet;
  ctx.lineWidth = 3 * px;
  ctx.beginPath();
  ctx.moveTo(x - 5 * px, y - 5 * px);
  ctx.lineTo(x + 5 * px, y + 5 * px);
  ctx.moveTo(x + 5 * px, y - 5 * px);
  ctx.lineTo(x - 5 * px, y + 5 * px);
  ctx.stroke();
}
