// The picture of one vessel's curve.

import { axis, colours, fade, face, hatch, library, live, timeLabels } from './chart.js';
import { clock, degreesOf, length, plain } from './units.js';

const MAT_STRIP = 10; // css pixels at the foot of the plot

// curveChart draws into box. hooks: vessel() is the vessel now, picked(from,
// to) is called after a drag, pointed(index) when the cursor moves.
export function curveChart(box, hooks) {
  let data = null;
  let from = 0;
  let to = 1;
  let plot = null;
  let bareNow = false;
  const frame = live(box, (width, height) => {
    const c = colours();
    const Plot = plot;
    return new Plot(options(Plot, c, width, height), columns(data), box);
  });

  function options(Plot, c, width, height) {
    const narrow = width < 560;
    const bare = heightsOnly(data);
    return {
      width, height, padding: [14, narrow ? 2 : 6, 0, 2], legend: { show: false },
      tzDate: (ts) => new Date(ts * 1000),
      scales: { x: { time: true, range: () => [from, to] }, r: { range: (u, low, high) => room(low, high) }, t: { range: (u, low, high) => warmRoom(low, high) } },
      axes: [
        axis(c, { values: timeLabels, space: narrow ? 72 : 90 }),
        axis(c, { scale: 'r', size: narrow ? 44 : 52, values: (u, v) => v.map((x) => (bare ? length(x).split('\u00a0')[0] : `${plain(x, x % 1 ? (x * 10 % 1 ? 2 : 1) : 1)}×`)) }),
        axis(c, { scale: 't', side: 1, size: narrow ? 40 : 48, stroke: c.blue, grid: { show: false }, values: (u, v) => v.map((x) => `${plain(x, x % 1 ? 1 : 0)}°`) }),
      ],
      series: [
        {},
        { scale: 'r', stroke: fade(c.crust, 0.35), width: 1, points: { show: false } },
        { scale: 'r', stroke: fade(c.crust, 0), points: { show: false } },
        { scale: 'r', stroke: fade(c.crust, 0), points: { show: false } },
        { scale: 't', stroke: c.blue, width: 1.6, dash: [5, 4], points: { show: false } },
        { scale: 'r', stroke: c.crust, width: 3, points: { show: false } },
      ],
      bands: [{ series: [3, 2], fill: fade(c.crust, 0.16) }],
      cursor: { y: false, drag: { x: true, y: false, setScale: false }, points: { size: 9 } },
      hooks: {
        drawAxes: [(u) => { drawMat(u, c); drawFan(u, c); }],
        draw: [(u) => drawMarks(u, c)],
        setCursor: [(u) => hooks.pointed(u.cursor.idx ?? null)],
        setSelect: [(u) => {
          if (u.select.width < 8) return;
          const a = u.posToVal(u.select.left, 'x');
          const b = u.posToVal(u.select.left + u.select.width, 'x');
          u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
          hooks.picked(a * 1000, b * 1000);
        }],
      },
    };
  }

  // room leaves a little air, and the whole of the forecast fan.
  function room(low, high) {
    if (heightsOnly(data)) return [(low ?? 0) - 4, (high ?? 100) + 4];
    const f = hooks.vessel().forecast;
    const tops = f && Date.parse(f.top_at) / 1000 < to ? [f.ratio || 1, ...(f.fan || []).filter((r) => Date.parse(r.at) / 1000 <= to).map((r) => r.high)] : [];
    const most = Math.max(high ?? 2, ...tops, 1.4);
    const least = Math.min(low ?? 1, 1);
    const air = (most - least) * 0.08;
    return [least - air * 1.6, most + air];
  }

  // warmRoom keeps a calm curve calm: never less than eight degrees.
  function warmRoom(low, high) {
    if (low === null) return [degreesOf(16), degreesOf(30)];
    const mid = (low + high) / 2;
    const half = Math.max((high - low) / 2 + 1, degreesOf(4) - degreesOf(0));
    return [mid - half * 1.6, mid + half];
  }

  function drawMat(u, c) {
    const { ctx, bbox } = u;
    const px = devicePixelRatio;
    const top = bbox.top + bbox.height - MAT_STRIP * px;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.fillStyle = fade(c.line, 0.35);
    ctx.fillRect(bbox.left, top, bbox.width, MAT_STRIP * px);
    const lines = hatch(ctx, c.crust, 5);
    const half = data.step_s / 2;
    let start = null;
    for (let i = 0; i <= data.at.length; i += 1) {
      const on = i < data.at.length && data.mat_on[i] > 0.02;
      if (on && start === null) start = i;
      if (!on && start !== null) {
        const a = u.valToPos(data.at[start] - half, 'x', true);
        const b = u.valToPos(data.at[i - 1] + half, 'x', true);
        const share = data.mat_on.slice(start, i).reduce((s, x) => s + x, 0) / (i - start);
        ctx.fillStyle = fade(c.crust, 0.15 + 0.5 * share);
        ctx.fillRect(a, top, Math.max(px, b - a), MAT_STRIP * px);
        ctx.fillStyle = lines;
        ctx.fillRect(a, top, Math.max(px, b - a), MAT_STRIP * px);
        start = null;
      }
    }
    ctx.restore();
  }

  // drawFan draws the expected course, its interval, and over the time axis
  // a bar from the earliest to the latest likely top.
  function drawFan(u, c) {
    const f = hooks.vessel().forecast;
    if (!f) return;
    const { ctx, bbox } = u;
    const px = devicePixelRatio;
    const x = (t) => u.valToPos(Date.parse(t) / 1000, 'x', true);
    const y = (r) => u.valToPos(r, 'r', true);
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    const fan = heightsOnly(data) ? [] : f.fan?.length > 1 ? fromHere(f.fan) : wedge(f);
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
    const base = bbox.top + bbox.height - (MAT_STRIP + 12) * px;
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
    ctx.fillText(clock(hooks.vessel().says.at || f.top_at), m, base - 11 * px);
    ctx.restore();
  }

  // fromHere lets the expected course begin at the line, also where the jar was
  // lifted since the course was worked out.
  function fromHere(fan) {
    const { ratio } = hooks.vessel();
    if (!ratio) return fan;
    const later = fan.filter((r) => Date.parse(r.at) > Date.parse(ratio.at));
    return [{ at: ratio.at, low: ratio.value, mid: ratio.value, high: ratio.value }, ...later];
  }

  // wedge stands in where the daemon gives no course: from the last value to
  // the expected height at the earliest, likeliest and latest moment.
  function wedge(f) {
    const v = hooks.vessel();
    if (!v.ratio || !f.ratio) return [];
    const from = { at: v.ratio.at, low: v.ratio.value, mid: v.ratio.value, high: v.ratio.value };
    const straight = (t, goal) => v.ratio.value + (f.ratio - v.ratio.value) * Math.min(1, (Date.parse(t) - Date.parse(from.at)) / Math.max(1, Date.parse(goal) - Date.parse(from.at)));
    return [from, ...[f.low_at, f.top_at, f.high_at].map((t) => ({ at: t, low: straight(t, f.high_at), mid: straight(t, f.top_at), high: straight(t, f.low_at) }))];
  }

  // drawMarks: a feed is a triangle hanging from the top with a line below
  // it, a top a ring on the curve, a fall an arrow head below it, a fault a cross, a new
  // starter a double line.
  function drawMarks(u, c) {
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
      else if (m.kind === 'top' || m.kind === 'target') ring(ctx, c, x, ringAt(u, t, bbox, px), px * near);
      else if (m.kind === 'collapse') arrowHead(ctx, c, x, ringAt(u, t, bbox, px) + 12 * px, px * near);
      else if (m.kind === 'starter') doubleLine(ctx, c, x, bbox, px);
      else cross(ctx, c, x, bbox.top + 12 * px, px);
    }
    ctx.restore();
  }

  // ringAt is the height of the curve at a moment, or the upper edge where
  // the curve has a gap.
  function ringAt(u, t, bbox, px) {
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

  return {
    async draw(got, a, b) {
      plot = await library();
      await document.fonts.load(`600 ${face()}`).catch(() => {});
      data = got;
      from = a;
      to = b;
      if (!box.isConnected) return;
      const began = performance.now();
      // Height and ratio have other scales: a change from one to the other makes a new chart.
      if (!frame.chart || bareNow !== heightsOnly(data)) frame.make();
      else frame.chart.setData(columns(data));
      bareNow = heightsOnly(data);
      requestAnimationFrame(() => { box.dataset.drawnMs = (performance.now() - began).toFixed(1); });
    },
    step(by) {
      const u = frame.chart;
      if (!u || !data.at.length) return;
      const i = Math.max(0, Math.min(data.at.length - 1, (u.cursor.idx ?? data.at.length - 1) + by * Math.max(1, Math.round(data.at.length / 100))));
      u.setCursor({ left: u.valToPos(data.at[i], 'x'), top: 10 });
    },
    get chart() { return frame.chart; },
    close() { frame.close(); },
  };
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

// Where no feed is known there is no ratio; then the height itself is drawn.
const heightsOnly = (d) => d.ratio.every((x) => x === null) && d.height_mm.some((x) => x !== null);
const columns = (d) => {
  const rise = heightsOnly(d) ? [d.height_mm, d.height_mm, d.height_mm] : [d.ratio, d.ratio_low, d.ratio_high];
  return [d.at, ...rise, d.temp_c.map((x) => (x === null ? null : degreesOf(x))), smooth(d.at, rise[0], breaks(d))];
};

const SMOOTH = 360; // seconds to either side; a starter moves by less than its noise in that time
const GAP = 900; // seconds without a reading, or a step of the level, part the line

// breaks are the moments over which the line is not smoothed: feeds.
const breaks = (d) => d.marks.filter((m) => m.kind === 'fed').map((m) => Date.parse(m.at) / 1000);

// smooth is the line through the readings: their local mean, which never
// reaches over a feed or a gap.
function smooth(at, values, cuts) {
  const part = [];
  let n = 0;
  let next = 0;
  for (let i = 0; i < at.length; i += 1) {
    while (next < cuts.length && cuts[next] <= at[i]) { next += 1; n += 1; }
    if (i > 0 && at[i] - at[i - 1] > GAP) n += 1;
    part.push(n);
  }
  let low = 0;
  let high = 0;
  return values.map((v, i) => {
    if (v === null) return null;
    while (at[i] - at[low] > SMOOTH) low += 1;
    while (high < at.length && at[high] - at[i] <= SMOOTH) high += 1;
    let sum = 0;
    let weight = 0;
    for (let j = low; j < high; j += 1) {
      if (values[j] === null || part[j] !== part[i]) continue;
      const w = 1 - Math.abs(at[j] - at[i]) / (SMOOTH + 1);
      sum += w * values[j];
      weight += w;
    }
    return sum / weight;
  });
}
const scaled = (px) => face().replace(/^\d+/, (n) => Math.round(n * px));

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

