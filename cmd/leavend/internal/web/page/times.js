// Clock times, days and ages, as the kitchen's zone and the baker's clock write
// them. Everything arrives in UTC.

import { language, styles, t } from './text.js';
import { taste } from './taste.js';

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

// weekdayClock is a clock time with its day of the week.
const weekdayClock = (at) => t('time.on', { day: form('weekday', { weekday: 'short' }).format(ms(at)), clock: clock(at) });

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

// ago is how long ago a moment was, or a number of seconds, as a person says it; Reader.age
// of the package text does the same.
export function ago(at) {
  const m = (typeof at === 'number' ? at : ageS(at)) / 60;
  if (m < 1) return t('time.just_now');
  if (m <= 90) return t('time.minutes_ago', { n: Math.round(m) });
  if (m < 36 * 60) return t('time.hours_ago', { n: Math.round(m / 60) });
  return t('time.days_ago', { n: Math.round(m / 1440) });
}

// until is how far off a moment is, to five minutes: no estimate is finer.
export function until(at) {
  const m = Math.round((ms(at) - now()) / 300_000) * 5;
  return m < 5 ? t('time.any_minute') : t('time.in', { span: m * 60 });
}

Object.assign(styles, { time: moment, when, clock, weekday: weekdayClock, date: dayClock, day, ago, in: until, duration: span });
