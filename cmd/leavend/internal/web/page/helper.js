// The service worker: it keeps the page at hand and shows messages. A browser
// runs one only where the page came encrypted or from this machine, and some
// will not even then, as with a certificate that they do not trust.

import { trusted } from './trusted.js';

let started = null;

// helper resolves with the running worker's registration, and rejects where
// there is none to be had.
export function helper() {
  started ||= 'serviceWorker' in navigator && isSecureContext
    ? navigator.serviceWorker.register(trusted('worker.js')).then(() => navigator.serviceWorker.ready)
    : Promise.reject(new Error('no service worker'));
  return started;
}
