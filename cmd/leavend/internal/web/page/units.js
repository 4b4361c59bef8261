// How numbers, clock times and ages are written. Everything arrives in
// metric units and UTC; the baker's choices are kept in this browser.

import { language, message, styles, t } from './text.js';

const KEY = 'leavend.taste';
const US = ['US', 'LR', 'MM'];

function usual() {
  const locale = navigator.language || 'en';
  const region = new Intl.Locale(locale).maximize().region;
  const cycle = new Intl.DateTimeFormat(locale, { hour: 'numeric' }).resolvedOptions().hourCycle;
  const us = US.includes(region);
  return {
    temperature: us ? 'f' : 'c',
    weight: 'g', // bakers weigh in grams everywhere
    size: us ? 'us' : 'metric',
    clock: cycle === 'h11' || cycle === 'h12' ? '12' : '24',
    light: 'auto',
    language: 'auto',
  };
}

// older is a choice kept before temperature, weight and size were chosen apart.
function older({ units, ...kept }) {
  if (units === 'us') return { temperature: 'f', weight: 'oz', size: 'us', ...kept };
  return units === 'metric' ? { temperature: 'c', weight: 'g', size: 'metric', ...kept } : kept;
}

function load() {
  try {
    return { ...usual(), ...older(JSON.parse(localStorage.getItem(KEY) || '{}')) };
  } catch {
    return usual();
  }
}

export const taste = load();

// prefer changes one choice and keeps it.
export function prefer(name, value) {
  taste[name] = value;
  try {
    localStorage.setItem(KEY, JSON.stringify(taste));
  } catch { /* a browser that keeps nothing still obeys until it is closed */ }
  if (name === 'language') document.cookie = `leavend_language=${value === 'auto' ? '; max-age=0' : `${value}; max-age=31536000`}; path=/; samesite=strict`;
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
      made = new Intl.DateTimeFormat(language.locale, all);
    } catch { // a zone this browser does not know
      made = new Intl.DateTimeFormat(language.locale, { ...all, timeZone: undefined });
    }
    forms.set(key, made);
  }
  return forms.get(key);
}

const hourForm = () => (taste.clock === '12' ? 'numeric' : '2-digit');
const ms = (at) => (typeof at === 'string' ? Date.parse(at) : +at);

// clock is a clock time such as 14:20 or 2:20 pm.
export function clock(at) {
  return form('clock', { hour: hourForm(), minute: '2-digit' }).format(ms(at)).replace('AM', 'am').replace('PM', 'pm');
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
  const shows = (at) => {
    const parts = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23', timeZone: zone || undefined }).format(at).split(':').map(Number);
    return parts[0] * 60 + parts[1];
  };
  const start = Math.floor(after / 6e4) * 6e4;
  const at = start + ((h * 60 + m - shows(start) + 1440) % 1440 || 1440) * 6e4;
  // In between the clocks may have been changed.
  return at + ((h * 60 + m - shows(at) + 2160) % 1440 - 720) * 6e4;
}

// localOf writes a moment as the kitchen's clock shows it, for an input of a
// date and a time; atOf reads it back, null for what is no moment.
export function localOf(at) {
  const p = Object.fromEntries(new Intl.DateTimeFormat('en-GB', { year: 'numeric', month: '2-digit', day: '2-digit', hour: '2-digit', minute: '2-digit', hourCycle: 'h23', timeZone: zone || undefined })
    .formatToParts(ms(at)).map(({ type, value }) => [type, value]));
  return `${p.year}-${p.month}-${p.day}T${p.hour}:${p.minute}`;
}

export function atOf(local) {
  const wanted = Date.parse(`${local}Z`);
  if (Number.isNaN(wanted)) return null;
  // The zone's offset is that of the moment itself, which the first guess is near.
  const off = (at) => Date.parse(`${localOf(at)}Z`) - Math.floor(at / 6e4) * 6e4;
  const guess = wanted - off(wanted);
  return wanted - off(guess);
}

// dayKey tells days apart in the kitchen's zone.
export const dayKey = (at) => form('key', { year: 'numeric', month: '2-digit', day: '2-digit' }).format(ms(at));

// weekday is the kitchen's day of the week: mon to sun.
export const weekday = (at) => new Intl.DateTimeFormat('en-GB', { weekday: 'short', timeZone: zone || undefined }).format(ms(at)).toLowerCase().slice(0, 3);

// day is a date such as Saturday 14 March.
export function day(at) {
  const other = form('year', { year: 'numeric' }).format(ms(at)) !== form('year', { year: 'numeric' }).format(now());
  return other
    ? form('dayyear', { day: 'numeric', month: 'short', year: 'numeric' }).format(ms(at))
    : form('day', { weekday: 'short', day: 'numeric', month: 'short' }).format(ms(at));
}

export const month = (at) => form('month', { month: 'short', year: 'numeric' }).format(ms(at));
export const dayMonth = (at) => form('dm', { day: 'numeric', month: 'short' }).format(ms(at));

// moment is a clock time, with its day where that is not today.
export const moment = (at) => near(at, { today: 'time.today', tomorrow: 'time.tomorrow', yesterday: 'time.yesterday', on: 'time.on' });

// when is the same within a sentence: at 14:20, yesterday at 14:20.
const when = (at) => near(at, { today: 'time.when', tomorrow: 'time.when_tomorrow', yesterday: 'time.when_yesterday', on: 'time.when_on' });

function near(at, keys) {
  const n = now();
  const args = { clock: clock(at) };
  if (dayKey(at) === dayKey(n)) return t(keys.today, args);
  if (dayKey(at) === dayKey(n + 864e5)) return t(keys.tomorrow, args);
  if (dayKey(at) === dayKey(n - 864e5)) return t(keys.yesterday, args);
  return t(keys.on, { day: ahead7(at) ? form('longday', { weekday: 'long' }).format(ms(at)) : day(at), ...args });
}

// dayClock is a clock time with its date.
export const dayClock = (at) => t('time.on', { day: day(at), clock: clock(at) });

// ahead7 reports whether a moment lies in the next six days, where the day of
// the week alone tells it.
const ahead7 = (at) => ms(at) > now() && ms(at) < now() + 6 * 864e5;

// beside is a clock time, with its day of the week where that is not the day of from.
function beside(at, from) {
  if (!from || dayKey(at) === dayKey(from)) return clock(at);
  if (Math.abs(ms(at) - ms(from)) >= 6 * 864e5) return `${day(at)} ${clock(at)}`;
  return `${form('weekday', { weekday: 'short' }).format(ms(at))} ${clock(at)}`;
}

// told writes a sentence of the daemon's, which comes in pieces: text, and values
// that are written as the baker chose.
export const told = (said = []) => (said.key ? message(said) : said.map((p) => {
  if (typeof p === 'string') return p;
  if (p.at) return beside(p.at, p.from);
  if (p.day) return day(p.day);
  return p.c === undefined ? grams(p.g) : degrees(p.c, p.digits ?? short(p.c));
}).join(''));

// short is how many decimals a warmth needs.
const short = (c) => (taste.temperature !== 'f' && Math.abs(c - Math.round(c)) > 0.05 ? 1 : 0);

// ageS is the age in seconds.
export const ageS = (at) => Math.max(0, (now() - ms(at)) / 1000);

// span writes a length of time in at most two units.
export function span(seconds) {
  const m = Math.round(seconds / 60);
  if (seconds < 90) return t('time.seconds', { n: Math.round(seconds) });
  if (m < 60) return t('time.minutes', { n: m });
  if (m < 48 * 60) return t(m % 60 ? 'time.hours_minutes' : 'time.hours', { h: Math.floor(m / 60), m: m % 60 });
  return t('time.days', { n: Math.round(m / 1440) });
}

export const ago = (at) => (ageS(at) < 60 ? t('time.just_now') : t('time.ago', { span: ageS(at) }));

// until is how far off a moment is, to five minutes: no estimate is finer.
export function until(at) {
  const m = Math.round((ms(at) - now()) / 300_000) * 5;
  return m < 5 ? t('time.any_minute') : t('time.in', { span: m * 60 });
}

// sentence dresses a daemon's words: a capital in front, a full stop behind.
export const sentence = (text) => (text ? text[0].toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? '' : '.') : '');

const fixed = (v, digits) => new Intl.NumberFormat(language.locale, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(v);
const none = (v) => v === null || v === undefined || Number.isNaN(v);

export const toF = (c) => c * 9 / 5 + 32;
export const degreesOf = (c) => (taste.temperature === 'f' ? toF(c) : c);
export const degreesIn = (v) => (taste.temperature === 'f' ? (v - 32) * 5 / 9 : v);
export const degreeSign = () => (taste.temperature === 'f' ? '°F' : '°C');

// degrees writes a temperature, 25.4 °C.
export const degrees = (c, digits = 1) => (none(c) ? t('number.unknown') : `${fixed(degreesOf(c), digits)}\u00a0${degreeSign()}`);

// grams writes a weight. What weighs little has a decimal more in ounces: a tenth
// of one would make 11 g of salt of 10.
export function grams(g) {
  if (none(g)) return t('number.unknown');
  const oz = g / 28.349523125;
  return taste.weight === 'oz' ? `${fixed(oz, oz >= 1.95 ? 1 : 2)}\u00a0oz` : `${fixed(g, 0)}\u00a0g`;
}
export const gramsIn = (v) => (taste.weight === 'oz' ? v * 28.349523125 : v);
export const gramsOut = (g) => (taste.weight === 'oz' ? Math.round(g / 28.349523125 * 10) / 10 : Math.round(g * 10) / 10);
export const weightSign = () => (taste.weight === 'oz' ? 'oz' : 'g');

// length writes a height.
export const length = (mm) => (none(mm) ? t('number.unknown') : taste.size === 'us' ? `${fixed(mm / 25.4, 2)}\u00a0in` : `${fixed(mm, 0)}\u00a0mm`);

// volume writes what a vessel holds; a US quart is 0.946352946 l exactly.
export const volume = (l) => (taste.size === 'us' ? `${fixed(l / 0.946352946, 1)}\u00a0qt` : `${plain(l, l % 1 ? 2 : 0).replace(/0$/, '')}\u00a0l`);

// times writes a rise ratio, 1.86×.
export const times = (r, digits = 2) => (none(r) ? t('number.unknown') : `${fixed(r, digits)}×`);
export const percent = (share) => (none(share) ? t('number.unknown') : `${fixed(share * 100, 0)}\u00a0%`);
export const plain = (v, digits = 0) => (none(v) ? t('number.unknown') : fixed(v, digits));

Object.assign(styles, {
  time: moment, when, clock, day, ago, in: until,
  duration: span, temp: degrees, degrees: (c) => degrees(c, short(c)), warmer: (k) => `${fixed(taste.temperature === 'f' ? k * 1.8 : k, 1)}°`,
  weight: grams, length, volume, ratio: times, percent, number: (v) => new Intl.NumberFormat(language.locale, { maximumFractionDigits: 3 }).format(v),
  count: (v) => new Intl.NumberFormat(language.locale).format(v),
});
