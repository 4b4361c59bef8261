// What the baker chose on this device: units, clock, colours, language. It is kept
// in this browser.

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
}
