// Messages on this device, by the browser's push service. A browser allows that
// only where the page came over TLS or from this machine.

import { h, say, show } from './dom.js';
import { t } from './text.js';
import { helper } from './helper.js';
import { post, read, remove } from './api.js';

export function pushPart(app) {
  const state = h('p');
  const on = h('button', { type: 'button', class: 'strong', hidden: true, onclick: () => turn(true) }, t('push.on'));
  const off = h('button', { type: 'button', hidden: true, onclick: () => turn(false) }, t('push.off'));
  const test = h('button', { type: 'button', hidden: true, onclick: tryIt }, t('push.test'));
  const el = h('section', { class: 'block' }, h('h2', {}, t('push.title')), state, h('div', { class: 'row' }, on, off, test));

  async function subscription() {
    return (await helper()).pushManager.getSubscription();
  }

  // whyNot is why this browser cannot be told, and what to do about it.
  async function whyNot() {
    if (!isSecureContext) return t('push.not_here');
    if (!('PushManager' in window && 'Notification' in window)) return t('push.not_this');
    return helper().then(() => '', () => t('push.no_helper'));
  }

  async function look() {
    const why = await whyNot();
    if (why) {
      say(state, why);
      return;
    }
    const has = Boolean(await subscription());
    say(state, has ? t('push.is_on') : t('push.is_off'));
    show(on, !has);
    show(off, has);
    show(test, has);
  }

  async function turn(into) {
    on.disabled = off.disabled = true;
    try {
      await (into ? subscribe() : unsubscribe());
    } catch (err) {
      app.complain(t('push.failed', { why: err.message }));
    }
    on.disabled = off.disabled = false;
    look();
  }

  async function subscribe() {
    const { key } = await read('push');
    if (!key) throw new Error(t('push.no_key'));
    if (await Notification.requestPermission() !== 'granted') throw new Error(t('push.denied'));
    const made = await (await helper()).pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key });
    const { endpoint, keys } = made.toJSON();
    const done = await app.change(() => post('push/devices', { endpoint, p256dh: keys.p256dh, auth: keys.auth }).then(() => true));
    if (done) app.announce(t('push.is_on'));
    else await made.unsubscribe();
  }

  async function unsubscribe() {
    const had = await subscription();
    if (!had) return;
    if (await app.change(() => remove('push/devices', { endpoint: had.endpoint }).then(() => true))) {
      await had.unsubscribe();
      app.announce(t('push.is_off'));
    }
  }

  async function tryIt() {
    if (await app.change(() => post('push/test').then(() => true))) app.announce(t('push.sent'));
  }

  say(state, t('push.looking'));
  look().catch((err) => say(state, t('push.failed', { why: err.message })));
  return el;
}
