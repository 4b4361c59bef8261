// The columns of a curve's chart, and the line through readings that are never
// quite still.

import { degreesOf } from './units.js';

const SMOOTH = 360; // seconds to either side; a starter moves by less than its noise in that time
const GAP = 900; // seconds without a reading that part the line
const LONG = 36 * 3600; // seconds shown from when on a mat's switching would hide the curve

// heightsOnly: where no feed is known there is no ratio, and the height itself is drawn.
export const heightsOnly = (d) => d.ratio.every((x) => x === null) && d.height_mm.some((x) => x !== null);

// columns are what the chart draws: readings with their extremes, temperature,
// and the smooth line. span is how many seconds are shown.
export const columns = (d, span) => {
  const rise = heightsOnly(d) ? [d.height_mm, d.height_mm, d.height_mm] : [d.ratio, d.ratio_low, d.ratio_high];
  const gap = Math.max(GAP, 3 * d.step_s);
  const degrees = d.temp_c.map((x) => (x === null ? null : degreesOf(x)));
  return [d.at, ...rise, span > LONG ? smooth(d.at, degrees, [], gap, span / 60) : degrees, smooth(d.at, rise[0], breaks(d), gap, Math.max(SMOOTH, span / 600))];
};

// breaks are the moments over which the line is not smoothed: feeds.
const breaks = (d) => d.marks.filter((m) => m.kind === 'fed').map((m) => Date.parse(m.at) / 1000).sort((a, b) => a - b);

// partsOf numbers the parts that cuts and gaps make.
function partsOf(at, cuts, gap) {
  let n = 0;
  let next = 0;
  return at.map((t, i) => {
    while (next < cuts.length && cuts[next] <= t) { next += 1; n += 1; }
    if (i > 0 && t - at[i - 1] > gap) n += 1;
    return n;
  });
}

// smooth is the local mean of values, reach seconds to either side, which never
// reaches over a cut or a gap. A reading that is missing leaves no hole.
export function smooth(at, values, cuts, gap, reach) {
  const part = partsOf(at, cuts, gap);
  let low = 0;
  let high = 0;
  return values.map((v, i) => {
    while (at[i] - at[low] > reach) low += 1;
    while (high < at.length && at[high] - at[i] <= reach) high += 1;
    let sum = 0;
    let weight = 0;
    let [before, after] = [false, false];
    for (let j = low; j < high; j += 1) {
      if (values[j] === null || part[j] !== part[i]) continue;
      const w = 1 - Math.abs(at[j] - at[i]) / (reach + 1);
      sum += w * values[j];
      weight += w;
      before ||= j <= i;
      after ||= j >= i;
    }
    return before && after ? sum / weight : null;
  });
}
