// One event stream for all tabs of a browser. Over HTTP/1.1 a browser opens
// six connections to a host, so a seventh tab with a stream of its own would
// stall. One tab holds the stream and passes on what it hears; the lease on
// that office lies in localStorage and is taken over when it runs out.

const LEASE = 'leavend.stream';
const LASTS = 25_000; // ms; the daemon says something every ten seconds
const SILENT = 23_000; // ms without a word: the line counts as dead

// listen calls heard with each state of the kitchen and line(true or false)
// when the daemon can be heard or no more.
export function listen(heard, line) {
  const me = Math.random().toString(36).slice(2);
  const channel = new BroadcastChannel('leavend');
  let source = null;
  let lastWord = 0;
  let up = null;

  const lease = () => {
    try {
      return JSON.parse(localStorage.getItem(LEASE)) || { until: 0 };
    } catch {
      return { until: 0 };
    }
  };
  const hold = () => localStorage.setItem(LEASE, JSON.stringify({ who: me, until: Date.now() + LASTS }));
  const free = () => {
    const { who, until } = lease();
    return who === me || until < Date.now() || until > Date.now() + 2 * LASTS;
  };

  function tell(state) {
    if (state !== up) {
      up = state;
      line(up);
    }
  }

  function word(text) {
    lastWord = Date.now();
    tell(true);
    heard(JSON.parse(text));
  }

  function lead() {
    hold();
    source = new EventSource('api/events');
    source.addEventListener('now', (e) => {
      if (lease().who !== me) { // another tab took over while this one slept
        step();
        return;
      }
      hold();
      word(e.data);
      channel.postMessage({ now: e.data });
    });
    source.addEventListener('error', () => {
      if (source && source.readyState === EventSource.CLOSED) { // refused, not broken: try again later
        step();
      }
      if (Date.now() - lastWord > 3000) lost();
    });
  }

  function lost() {
    tell(false);
    if (source) channel.postMessage({ lost: true });
  }

  function step() {
    source?.close();
    source = null;
  }

  // apply takes the office if it is free. Two tabs may both believe so for a
  // moment: the one whose name is not in the lease a little later goes.
  function apply() {
    if (source || !free()) return;
    hold();
    setTimeout(() => {
      if (!source && lease().who === me) lead();
    }, 40 + Math.random() * 80);
  }

  channel.addEventListener('message', ({ data }) => {
    if (data.now) word(data.now);
    if (data.lost) tell(false);
    if (data.gone) setTimeout(apply, Math.random() * 150);
  });

  setInterval(() => {
    if (source && lease().who !== me) step();
    if (source) hold();
    apply();
    if (lastWord && Date.now() - lastWord > SILENT) {
      lost();
      if (source) { // a line that is open and says nothing is no line
        step();
        apply();
      }
    }
  }, 4000);

  addEventListener('pagehide', () => {
    if (!source) return;
    step();
    localStorage.removeItem(LEASE);
    channel.postMessage({ gone: true });
  });
  addEventListener('pageshow', (e) => { if (e.persisted) apply(); });
  addEventListener('offline', lost);
  addEventListener('online', () => { step(); apply(); });
  apply();
  return { leads: () => source !== null };
}
