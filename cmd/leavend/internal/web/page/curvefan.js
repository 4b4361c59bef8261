// What is expected of a curve: its course with the interval, and over the time
// axis a bar from the earliest to the latest likely peak.

import { face, fade, hatch } from './chart.js';
import { clock } from './times.js';
import { heightsOnly } from './smooth.js';

// drawFan draws it for a vessel; strip is how high the mat's strip below it is.
export function drawFan(u, c, data, vessel, strip) {
  const f = vessel.forecast;
  if (!f) return;
  const { ctx, bbox } = u;
  const px = devicePixelRatio;
  const x = (t) => u.valToPos(Date.parse(t) / 1000, 'x', true);
  const y = (r) => u.valToPos(r, 'r', true);
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  const fan = heightsOnly(data) ? [] : f.fan?.length > 1 ? fromHere(vessel, f.fan) : wedge(vessel, f);
  if (fan.length > 1) {
    ctx.beginPath();
    fan.forEach((r, i) => ctx[i ? 'lineTo' : 'moveTo'](x(r.at), y(r.high)));
    [...fan].reverse().forEach((r) => ctx.lineTo(x(r.at), y(r.low)));
    ctx.closePath();
    ctx.fillStyle = fade(c.leaf, 0.14);
    ctx.fill();
    ctx.fillStyle = hatch(ctx, fade(c.leaf, 0.5), 9);
    ctx.fill();
    ctx.beginPath();
    fan.forEach((r, i) => ctx[i ? 'lineTo' : 'moveTo'](x(r.at), y(r.mid)));
    ctx.setLineDash([2 * px, 5 * px]);
    ctx.lineCap = 'round';
    ctx.lineWidth = 2.5 * px;
    ctx.strokeStyle = c.leaf;
    ctx.stroke();
    ctx.setLineDash([]);
  }
  const a = x(f.low_at);
  const b = x(f.high_at);
  const m = x(f.top_at);
  const base = bbox.top + bbox.height - (strip + 12) * px;
  ctx.strokeStyle = c.leaf;
  ctx.lineWidth = 3 * px;
  ctx.beginPath();
  ctx.moveTo(a, base);
  ctx.lineTo(b, base);
  ctx.moveTo(a, base - 5 * px);
  ctx.lineTo(a, base + 5 * px);
  ctx.moveTo(b, base - 5 * px);
  ctx.lineTo(b, base + 5 * px);
  ctx.stroke();
  ctx.fillStyle = c.leaf;
  ctx.beginPath();
  ctx.arc(m, base, 5 * px, 0, 2 * Math.PI);
  ctx.fill();
  ctx.font = `600 ${scaled(px)}`;
  ctx.textAlign = m > bbox.left + bbox.width - 50 * px ? 'right' : 'center';
  ctx.fillText(clock(vessel.says.at || f.top_at), m, base - 11 * px);
  ctx.restore();
}

// fromHere lets the expected course begin at the line, also where the jar was
// lifted since the course was worked out.
function fromHere({ ratio }, fan) {
  if (!ratio) return fan;
  const later = fan.filter((r) => Date.parse(r.at) > Date.parse(ratio.at));
  return [{ at: ratio.at, low: ratio.value, mid: ratio.value, high: ratio.value }, ...later];
}

// wedge stands in where the daemon gives no course: from the last value to
// the expected height at the earliest, likeliest and latest moment.
function wedge(v, f) {
  if (!v.ratio || !f.ratio) return [];
  const from = { at: v.ratio.at, low: v.ratio.value, mid: v.ratio.value, high: v.ratio.value };
  const straight = (t, goal) => v.ratio.value + (f.ratio - v.ratio.value) * Math.min(1, (Date.parse(t) - Date.parse(from.at)) / Math.max(1, Date.parse(goal) - Date.parse(from.at)));
  return [from, ...[f.low_at, f.top_at, f.high_at].map((t) => ({ at: t, low: straight(t, f.high_at), mid: straight(t, f.top_at), high: straight(t, f.low_at) }))];
}

const scaled = (px) => face().replace(/^\d+/, (n) => Math.round(n * px));
