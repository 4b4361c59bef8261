// The page's title and icon: when the next top is expected can be read from
// a tab in the background.

import { t } from './text.js';
import { clock } from './times.js';

// headline is the vessel most worth a look: one on its peak or target now,
// else the one whose top comes first.
export function headline(kitchen) {
  const ready = kitchen.vessels.find((v) => v.says.face === 'ready');
  if (ready) return { vessel: ready, ready: true };
  const coming = kitchen.vessels.filter((v) => v.forecast)
    .sort((a, b) => Date.parse(a.forecast.top_at) - Date.parse(b.forecast.top_at));
  return coming[0] ? { vessel: coming[0], at: coming[0].says.at || coming[0].forecast.top_at } : null;
}

let drawn = '';

export function dress(kitchen, online, screen) {
  const head = headline(kitchen);
  const fault = kitchen.mats.some((m) => m.faults.length > 0);
  const shown = t(`screen.${screen}`);
  let title = t('title.plain', { screen: shown });
  if (head) title = head.ready ? t('title.ready', { name: head.vessel.name, screen: shown }) : t('title.at', { at: head.at, name: head.vessel.name, screen: shown });
  if (fault) title = t('title.fault', { title });
  if (!online) title = t('title.offline', { title });
  if (document.title !== title) document.title = title;
  const lines = fault ? ['!'] : !online ? ['?'] : head?.ready ? ['✓'] : head ? clock(head.at).replace(/ ?[ap]m/, '').split(':') : [];
  icon(lines, fault ? '#8a1f3d' : head?.ready ? '#3f5a39' : '#93441a');
}

// icon draws hour over minute, which stays legible at the size of a tab.
function icon(lines, colour) {
  const key = lines.join() + colour;
  if (key === drawn) return;
  drawn = key;
  const link = document.querySelector('link[rel=icon]');
  if (lines.length === 0) {
    link.type = 'image/svg+xml';
    link.href = 'icon.svg';
    return;
  }
  const c = document.createElement('canvas');
  c.width = c.height = 64;
  const g = c.getContext('2d');
  g.fillStyle = colour;
  g.beginPath();
  g.roundRect(0, 0, 64, 64, 14);
  g.fill();
  g.fillStyle = '#fff8ec';
  g.textAlign = 'center';
  g.textBaseline = 'middle';
  g.font = `700 ${lines.length === 1 ? 48 : 33}px Vollkorn, Georgia, serif`;
  g.fontVariantNumeric = 'lining-nums';
  if (lines.length === 1) g.fillText(lines[0], 32, 35);
  else {
    g.fillText(lines[0], 32, 18);
    g.fillText(lines[1], 32, 48);
  }
  link.type = 'image/png';
  link.href = c.toDataURL('image/png');
}
