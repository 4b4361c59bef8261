// Every word the page says, in one file. To add a language, translate this
// file; a test checks that nothing is missing and nothing is left over.

const many = (n, one, more) => `${n} ${n === 1 ? one : more}`;
const bowl = (v) => v.kind === 'bowl';

export const words = {
  locale: 'en-GB',
  name: 'leavend',
  dash: '–',

  // The screens
  screens: { now: 'Now', curve: 'Curve', feeds: 'Feeds', warmth: 'Warmth', setup: 'Set-up' },
  screensLabel: 'Screens',
  skip: 'Skip to the content',
  titlePlain: (screen) => `${words.screens[screen]} · leavend`,
  titleAt: (v, at, screen) => `${at} ${v.name} · ${words.screens[screen]}`,
  titleReady: (v, screen) => `${v.name}: ${bowl(v) ? 'risen' : 'on top'} · ${words.screens[screen]}`,
  titleFault: (title) => `Mat off! ${title}`,
  titleOffline: (title) => `(no word) ${title}`,

  // Times
  seconds: (n) => `${n} s`,
  minutes: (n) => `${n} min`,
  hours: (h, m) => (m ? `${h} h ${m} min` : `${h} h`),
  days: (n) => many(n, 'day', 'days'),
  ago: (span) => `${span} ago`,
  tomorrowAt: (clock) => `tomorrow ${clock}`,
  yesterdayAt: (clock) => `yesterday ${clock}`,
  dayAt: (day, clock) => `${day}, ${clock}`,

  // Banners
  demo: 'This is a demonstration: the kitchen and all its numbers are invented.',
  noWord: (since) => (since ? `No word from the kitchen since ${since}. What you see is from then.` : 'The kitchen does not answer. Is the daemon running, and this phone at home?'),
  staleVessel: (v, age) => `No fresh reading from ${v.name}: the last one is ${age} old.`,
  silentVessel: (v) => `There is no reading from ${v.name}.`,
  faultBanner: (mat) => `${mat.name} is switched off by its guard.`,
  faultLink: 'See why',
  loading: 'Looking into the kitchen …',
  empty: 'No jar or bowl is set up yet. The configuration file names them; the set-up screen says what was found.',

  // Now
  stage: {
    unfed: 'Waiting for a feed', settling: 'Just fed, settling in', rising: 'Rising', top: 'On top now',
    falling: 'Past its top', target: 'Risen, ready to shape', asleep: 'Asleep in the fridge', unsure: 'Can’t tell',
  },
  expected: { jar: 'On top at about', bowl: 'Risen enough at about' },
  was: { jar: 'Was on top at', bowl: 'Had risen enough at' },
  isNow: { jar: 'On top since', bowl: 'Risen since' },
  between: (low, high) => `likely between ${low} and ${high}`,
  inAbout: (span) => `in ${span}`,
  noForecast: 'No time for the top yet',
  noForecastWhy: {
    unfed: 'Press “Fed” when you have fed it.', settling: 'The rise has to begin first.', falling: '', asleep: 'It sleeps; it will say when it wakes.',
    unsure: '', rising: 'The curve does not say enough yet.', top: '', target: '',
  },
  topRatio: (times) => `at ${times} its height`,
  fact: { rise: 'Rise', fed: 'Fed', mixed: 'Mixed', warmth: 'Warmth', mat: 'Mat', air: 'Air' },
  riseOf: (times) => `${times} its height when fed`,
  riseOfBowl: (times, goal) => `${times}, wanted ${goal}`,
  notFed: 'not yet',
  foundFeed: 'found in the curve',
  humidity: (percent) => `${percent} damp`,
  matOn: (to) => `warming, until ${to}`,
  matOff: (to) => `resting, holds ${to}`,
  matForbidden: 'not switched on',
  matFault: 'off: look at Warmth',
  fed: 'Fed',
  fedLabel: (v) => (bowl(v) ? `${v.name} was mixed just now` : `${v.name} was fed just now`),
  mixed: 'Mixed',
  noted: (v, at) => (bowl(v) ? `Noted: mixed at ${at}.` : `Noted: fed at ${at}.`),
  undo: 'Undo',
  undoLabel: (v) => `Take back the feed of ${v.name}`,
  undone: 'Taken back.',
  amounts: 'Write down the amounts',
  refusedLately: (n) => `${many(n, 'reading', 'readings')} not believed in the last hour`,
  seeCurve: (v) => `Curve of ${v.name}`,
  pictureOf: (v, times) => `${bowl(v) ? 'Bowl' : 'Jar'} ${v.name}, ${words.stage[v.stage].toLowerCase()}, at ${times} its height at the feed.`,
  pictureEmpty: (v) => `${bowl(v) ? 'Bowl' : 'Jar'} ${v.name}; its level is not known.`,

  // Troubles, by the code the daemon gives
  trouble: {
    offline: () => 'The kitchen does not answer. Nothing was changed.',
    broken: (detail) => detail || 'That did not work. The daemon’s log says why.',
    password: (detail) => detail,
    code: () => 'That is not the set-up code. It stands in the daemon’s log.',
    limits: (detail) => detail,
  },
  close: 'Close',
  cancel: 'Cancel',

  // Signing in
  signInTitle: 'Whose hands are these?',
  signInText: 'Looking is free; changing something needs the kitchen’s password.',
  password: 'Password',
  signIn: 'Sign in',
};
