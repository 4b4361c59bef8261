// What all charts share: the drawing library, fetched when the first chart
// is shown; colours and type from the style sheet; marks with shapes of
// their own, so that colour is never the only sign.

import { h } from './dom.js';
import { trusted } from './trusted.js';
import { clock, dayMonth, month, now } from './times.js';

let loading = null;

// library fetches uPlot once.
export function library() {
  loading ||= new Promise((resolve, reject) => {
    document.head.append(h('link', { rel: 'stylesheet', href: 'vendor/uPlot.min.css' }));
    const script = h('script', { onload: () => resolve(window.uPlot), onerror: () => { loading = null; reject(new Error('uPlot')); } });
    script.src = trusted('vendor/uPlot.iife.min.js');
    document.head.append(script);
  });
  return loading;
}

// colours reads the palette as it is now, by day or by night.
export function colours() {
  const probe = h('span', { hidden: true });
  document.body.append(probe);
  const of = (name) => {
    probe.style.color = `var(--${name})`;
    return getComputedStyle(probe).color;
  };
  const found = Object.fromEntries(['ink', 'soft', 'line', 'crust', 'blue', 'leaf', 'band', 'flour', 'cloth', 'beet', 'dough-edge'].map((n) => [n, of(n)]));
  probe.remove();
  return found;
}

// fade makes a colour see-through.
export const fade = (rgb, share) => rgb.replace(/^rgb\((.*)\)$/, `rgba($1, ${share})`);

export const face = () => {
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
  return `${Math.round(rem * 0.875)}px Vollkorn, Georgia, serif`;
};

// timeLabels writes the ticks of a time axis: clock times within a day, days
// and months beyond.
export function timeLabels(u, splits, axis, space, step) {
  return splits.map((t) => (step >= 20 * 86400 ? month(t * 1000) : step >= 86400 ? dayMonth(t * 1000) : clock(t * 1000)));
}

// axes are quiet lines of the house's type.
export function axis(c, more = {}) {
  return {
    stroke: c.soft, font: face(), labelFont: face(), gap: 6,
    grid: { stroke: fade(c.line, 0.55), width: 1 }, ticks: { stroke: c.line, width: 1, size: 5 }, ...more,
  };
}

// hatch is a pattern of slanted lines.
export function hatch(ctx, colour, gap = 6) {
  const tile = document.createElement('canvas');
  const size = Math.round(gap * devicePixelRatio);
  tile.width = tile.height = size;
  const g = tile.getContext('2d');
  g.strokeStyle = colour;
  g.lineWidth = devicePixelRatio * 1.2;
  g.beginPath();
  for (const d of [-size, 0, size]) {
    g.moveTo(d, size);
    g.lineTo(d + size, 0);
  }
  g.stroke();
  return ctx.createPattern(tile, 'repeat');
}

// live keeps a chart in step with its box and with the light, and lets go of
// both when it is closed.
export function live(box, build) {
  let chart = null;
  const make = () => {
    chart?.destroy();
    chart = build(Math.round(box.clientWidth), Math.round(box.clientHeight));
  };
  const seen = new ResizeObserver(() => {
    if (chart && (Math.abs(chart.width - box.clientWidth) > 1 || Math.abs(chart.height - box.clientHeight) > 1)) chart.setSize({ width: box.clientWidth, height: box.clientHeight });
  });
  seen.observe(box);
  const dark = matchMedia('(prefers-color-scheme: dark)');
  dark.addEventListener('change', make);
  return {
    make,
    get chart() { return chart; },
    close() {
      seen.disconnect();
      dark.removeEventListener('change', make);
      chart?.destroy();
    },
  };
}

// savePicture offers the chart with its title as a PNG file.
export function savePicture(chart, title, name) {
  const c = colours();
  const from = chart.ctx.canvas;
  const head = Math.round(44 * devicePixelRatio);
  const page = document.createElement('canvas');
  page.width = from.width;
  page.height = from.height + head;
  const g = page.getContext('2d');
  g.fillStyle = c.flour;
  g.fillRect(0, 0, page.width, page.height);
  g.fillStyle = c.ink;
  g.font = `600 ${Math.round(19 * devicePixelRatio)}px Vollkorn, Georgia, serif`;
  g.fillText(title, 14 * devicePixelRatio, head * 0.7, page.width - 28 * devicePixelRatio);
  g.drawImage(from, 0, head);
  page.toBlob((blob) => {
    const link = h('a', { href: URL.createObjectURL(blob), download: `${name}-${new Date(now()).toISOString().slice(0, 10)}.png` });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  }, 'image/png');
}
