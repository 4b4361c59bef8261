// How numbers, clock times and ages are written. Everything arrives in
// metric units and UTC; the baker's choices are kept in this browser.

import { words } from './words.js';

const KEY = 'leavend.taste';
const US = ['US', 'LR', 'MM'];

function usual() {
  const locale = navigator.language || 'en';
  const region = new Intl.Locale(locale).maximize().region;
  const cycle = new Intl.DateTimeFormat(locale, { hour: 'numeric' }).resolvedOptions().hourCycle;
  return {
    units: US.includes(region) ? 'us' : 'metric',
    clock: cycle === 'h11' || cycle === 'h12' ? '12' : '24',
    light: 'auto',
  };
}

function load() {
  try {
    return { ...usual(), ...JSON.parse(localStorage.getItem(KEY) || '{}') };
  } catch {
    return usual();
  }
}

export const taste = load();

// prefer changes one choice and keeps it.
export function prefer(name, value) {
  taste[name] = value;
  const { units, clock, light } = taste;
  try {
    localStorage.setItem(KEY, JSON.stringify({ units, clock, light }));
  } catch { /* a browser that keeps nothing still obeys until it is closed */ }
  forms.clear();
}

let zone;
let ahead = 0; // how far the daemon's clock is ahead of this one, ms

// tune sets the kitchen's time zone and clock.
export function tune(kitchen) {
  if (kitchen.zone !== zone) {
    zone = kitchen.zone;
    forms.clear();
  }
  strike(kitchen.at);
}

// strike sets the clock by a moment that the kitchen has just told.
export function strike(at) {
  const lead = Date.parse(at) - Date.now();
  if (Math.abs(lead - ahead) > 1500) ahead = lead;
}

// now is the daemon's time in ms: a phone's own clock may be wrong.
export const now = () => Date.now() + ahead;

const forms = new Map();

function form(name, options) {
  const key = name + taste.clock;
  if (!forms.has(key)) {
    const all = { ...options, timeZone: zone };
    if (options.hour) all.hourCycle = taste.clock === '12' ? 'h12' : 'h23';
    let made;
    try {
      made = new Intl.DateTimeFormat(words.locale, all);
    } catch { // a zone this browser does not know
      made = new Intl.DateTimeFormat(words.locale, { ...all, timeZone: undefined });
    }
    forms.set(key, made);
  }
  return forms.get(key);
}

const hourForm = () => (taste.clock === '12' ? 'numeric' : '2-digit');
const ms = (t) => (typeof t === 'string' ? Date.parse(t) : +t);

// clock is a clock time such as 14:20 or 2:20 pm.
export function clock(t) {
  return form('clock', { hour: hourForm(), minute: '2-digit' }).format(ms(t)).replace('AM', 'am').replace('PM', 'pm');
}

// clockText writes an hour of a schedule, which belongs to no day.
export function clockText(hhmm) {
  if (taste.clock !== '12') return hhmm;
  const [h, m] = hhmm.split(':').map(Number);
  return `${h % 12 || 12}:${String(m).padStart(2, '0')} ${h < 12 ? 'am' : 'pm'}`;
}

// nextAt is the next moment, in ms, at which the kitchen's clock shows the
// hour, after now or another moment; null for what is no hour.
export function nextAt(hhmm, after = now()) {
  const [h, m] = (hhmm || '').split(':').map(Number);
  if (!(h >= 0 && h < 24 && m >= 0 && m < 60)) return null;
  const shows = (t) => {
    const parts = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23', timeZone: zone || undefined }).format(t).split(':').map(Number);
    return parts[0] * 60 + parts[1];
  };
  const start = Math.floor(after / 6e4) * 6e4;
  const at = start + ((h * 60 + m - shows(start) + 1440) % 1440 || 1440) * 6e4;
  // In between the clocks may have been changed.
  return at + ((h * 60 + m - shows(at) + 2160) % 1440 - 720) * 6e4;
}

// dayKey tells days apart in the kitchen's zone.
export const dayKey = (t) => form('key', { year: 'numeric', month: '2-digit', day: '2-digit' }).format(ms(t));

// weekday is the kitchen's day of the week: mon to sun.
export const weekday = (t) => new Intl.DateTimeFormat('en-GB', { weekday: 'short', timeZone: zone || undefined }).format(ms(t)).toLowerCase().slice(0, 3);

// day is a date such as Saturday 14 March.
export function day(t) {
  const other = form('year', { year: 'numeric' }).format(ms(t)) !== form('year', { year: 'numeric' }).format(now());
  return other
    ? form('dayyear', { day: 'numeric', month: 'short', year: 'numeric' }).format(ms(t))
    : form('day', { weekday: 'short', day: 'numeric', month: 'short' }).format(ms(t));
}

export const month = (t) => form('month', { month: 'short', year: 'numeric' }).format(ms(t));
export const dayMonth = (t) => form('dm', { day: 'numeric', month: 'short' }).format(ms(t));

// moment is a clock time, with its day where that is not today.
export function moment(t) {
  const n = now();
  if (dayKey(t) === dayKey(n)) return clock(t);
  if (dayKey(t) === dayKey(n + 864e5)) return words.tomorrowAt(clock(t));
  if (dayKey(t) === dayKey(n - 864e5)) return words.yesterdayAt(clock(t));
  return words.dayAt(day(t), clock(t));
}

// near is a clock time, with its day of the week where that is not the day of from.
function near(t, from) {
  if (!from || dayKey(t) === dayKey(from)) return clock(t);
  if (Math.abs(ms(t) - ms(from)) >= 6 * 864e5) return `${day(t)} ${clock(t)}`;
  return `${form('weekday', { weekday: 'short' }).format(ms(t))} ${clock(t)}`;
}

// told writes a sentence of the daemon's, which comes in pieces: text, and values
// that are written as the baker chose.
export const told = (pieces = []) => pieces.map((p) => {
  if (typeof p === 'string') return p;
  if (p.at) return near(p.at, p.from);
  if (p.day) return day(p.day);
  return p.c === undefined ? grams(p.g) : degrees(p.c, p.digits ?? short(p.c));
}).join('');

// short is how many decimals a warmth needs.
const short = (c) => (taste.units !== 'us' && Math.abs(c - Math.round(c)) > 0.05 ? 1 : 0);

// ageS is the age in seconds.
export const ageS = (t) => Math.max(0, (now() - ms(t)) / 1000);

// span writes a length of time in at most two units.
export function span(seconds) {
  const m = Math.round(seconds / 60);
  if (seconds < 90) return words.seconds(Math.round(seconds));
  if (m < 60) return words.minutes(m);
  if (m < 48 * 60) return words.hours(Math.floor(m / 60), m % 60);
  return words.days(Math.round(m / 1440));
}

export const ago = (t) => (ageS(t) < 2 ? words.justNow : words.ago(span(ageS(t))));

// sentence dresses a daemon's words: a capital in front, a full stop behind.
export const sentence = (text) => (text ? text[0].toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? '' : '.') : '');

const fixed = (v, digits) => new Intl.NumberFormat(words.locale, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(v);
const none = (v) => v === null || v === undefined || Number.isNaN(v);

export const toF = (c) => c * 9 / 5 + 32;
export const degreesOf = (c) => (taste.units === 'us' ? toF(c) : c);
export const degreesIn = (v) => (taste.units === 'us' ? (v - 32) * 5 / 9 : v);
export const degreeSign = () => (taste.units === 'us' ? '°F' : '°C');

// degrees writes a temperature, 25.4 °C.
export const degrees = (c, digits = 1) => (none(c) ? words.dash : `${fixed(degreesOf(c), digits)}\u00a0${degreeSign()}`);

// grams writes a weight. What weighs little has a decimal more in ounces: a tenth
// of one would make 11 g of salt of 10.
export function grams(g) {
  if (none(g)) return words.dash;
  const oz = g / 28.349523125;
  return taste.units === 'us' ? `${fixed(oz, oz >= 1.95 ? 1 : 2)}\u00a0oz` : `${fixed(g, 0)}\u00a0g`;
}
export const gramsIn = (v) => (taste.units === 'us' ? v * 28.349523125 : v);
export const gramsOut = (g) => (taste.units === 'us' ? Math.round(g / 28.349523125 * 10) / 10 : Math.round(g * 10) / 10);
export const weightSign = () => (taste.units === 'us' ? 'oz' : 'g');

// length writes a height.
export const length = (mm) => (none(mm) ? words.dash : taste.units === 'us' ? `${fixed(mm / 25.4, 2)}\u00a0in` : `${fixed(mm, 0)}\u00a0mm`);

// volume writes what a vessel holds; a US quart is 0.946352946 l exactly.
export const volume = (l) => (taste.units === 'us' ? `${fixed(l / 0.946352946, 1)}\u00a0qt` : `${l}\u00a0l`);

// times writes a rise ratio, 1.86×.
export const times = (r, digits = 2) => (none(r) ? words.dash : `${fixed(r, digits)}×`);
export const percent = (share) => (none(share) ? words.dash : `${fixed(share * 100, 0)}\u00a0%`);
export const plain = (v, digits = 0) => (none(v) ? words.dash : fixed(v, digits));
