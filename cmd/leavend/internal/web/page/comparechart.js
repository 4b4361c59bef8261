// Several feeds in one picture, aligned at the feed. Each line has its own
// dashes and its number at its end.

import { axis, colours, face, library, live } from './chart.js';
import { smooth } from './smooth.js';
import { plain } from './units.js';
import { t } from './text.js';

const DASHES = [[], [8, 4], [2, 4], [12, 4, 2, 4], [5, 2], [1, 6]];

export function compareChart(box) {
  let curves = [];
  let warm = false;
  let plot = null;
  const frame = live(box, (width, height) => {
    const c = colours();
    const inks = [c.crust, c.blue, c.leaf, c.beet, c.soft, c['dough-edge']];
    const rows = join(curves, warm);
    return new plot({
      width, height, padding: [12, 18, 0, 2], legend: { show: false }, cursor: { show: false },
      scales: { x: { time: false }, y: { range: (u, low, high) => [Math.min(low ?? 1, 1) - 0.06, Math.max(high ?? 2, 1.4) + 0.1] } },
      axes: [
        axis(c, { values: (u, v) => v.map((x) => t('time.hours_short', { h: plain(x, x % 1 ? 1 : 0) })), space: 60 }),
        axis(c, { size: width < 560 ? 44 : 52, values: (u, v) => v.map((x) => `${plain(x, 1)}×`) }),
      ],
      series: [{}, ...curves.map((_, i) => ({ stroke: inks[i], width: i ? 2.2 : 3.2, dash: DASHES[i], points: { show: false }, spanGaps: true }))],
      hooks: { draw: [(u) => number(u, inks)] },
    }, rows, box);
  });

  function number(u, inks) {
    const px = devicePixelRatio;
    const { ctx } = u;
    ctx.save();
    ctx.font = `700 ${face().replace(/^\d+/, (n) => Math.round(n * px))}`;
    ctx.textAlign = 'left';
    ctx.textBaseline = 'middle';
    curves.forEach((_, i) => {
      const ys = u.data[i + 1];
      let last = ys.length - 1;
      while (last > 0 && (ys[last] === null || ys[last] === undefined)) last -= 1;
      ctx.fillStyle = inks[i];
      ctx.fillText(String(i + 1), u.valToPos(u.data[0][last], 'x', true) + 4 * px, u.valToPos(ys[last], 'y', true));
    });
    ctx.restore();
  }

  return {
    async draw(list, byWarmth) {
      curves = list;
      warm = byWarmth;
      plot = await library();
      if (box.isConnected && curves.length) frame.make();
    },
    close() { frame.close(); },
  };
}

// join lays the curves on one axis of hours.
function join(curves, warm) {
  const tables = curves.map((c) => [warm ? c.warm_hours : c.hours, calm(c)]);
  return tables.length ? window.uPlot.join(tables) : [[], []];
}

// calm is a curve without what is only the sensor's noise: the mean of a quarter of
// an hour.
const calm = (c) => smooth(c.hours.map((x) => x * 3600), c.ratio, [], 3600, 450);
