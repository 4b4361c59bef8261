// The picture of one vessel's curve.

import { axis, colours, fade, face, hatch, library, live, timeLabels } from './chart.js';
import { drawFan } from './curvefan.js';
import { drawMarks } from './curvemarks.js';
import { columns, heightsOnly } from './smooth.js';
import { degreesOf, length, plain } from './units.js';

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
    return new Plot(options(Plot, c, width, height), columns(data, to - from), box);
  });

  function options(Plot, c, width, height) {
    const narrow = width < 560;
    const bare = heightsOnly(data);
    return {
      width, height, padding: [14, narrow ? 2 : 6, 0, 2], legend: { show: false },
      tzDate: (ts) => new Date(ts * 1000),
      scales: { x: { time: true, range: () => [from, to] }, r: { range: (u, low, high) => room(low, high) }, t: { range: (u, low, high) => warmRoom(low, high) } },
      axes: [
        axis(c, { values: timeLabels, space: narrow ? 72 : 90, size: 34 }),
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
        drawAxes: [(u) => { drawMat(u, c, data); drawFan(u, c, data, hooks.vessel(), MAT_STRIP); }],
        draw: [(u) => drawMarks(u, c, data, from, to)],
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

  // short: an hour is looked at closely.
  const short = () => to - from < 2 * 3600;

  // room leaves a little air, and the whole of the forecast fan.
  function room(low, high) {
    if (heightsOnly(data)) return [(low ?? 0) - 4, (high ?? 100) + 4];
    const f = hooks.vessel().forecast;
    const tops = f && Date.parse(f.top_at) / 1000 < to ? [f.ratio || 1, ...(f.fan || []).filter((r) => Date.parse(r.at) / 1000 <= to).map((r) => r.high)] : [];
    const most = Math.max(high ?? 2, ...tops, short() ? 0 : 1.4);
    const least = short() ? Math.min(low ?? 1, most - 0.2) : Math.min(low ?? 1, 1);
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
      else frame.chart.setData(columns(data, to - from));
      bareNow = heightsOnly(data);
      requestAnimationFrame(() => { box.dataset.drawnMs = (performance.now() - began).toFixed(1); });
    },
    // redraw shows what changed of the vessel beside its readings.
    redraw() { frame.chart?.redraw(false, true); },
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

function drawMat(u, c, data) {
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
