// Keeps the page at hand when the kitchen does not answer. The network comes
// first always; what was kept is only the second best.

const KEPT = 'leavend-page';

self.addEventListener('install', (e) => e.waitUntil(fill()));
self.addEventListener('activate', (e) => e.waitUntil(self.clients.claim()));

async function fill() {
  const { files } = await (await fetch('shell.json', { cache: 'no-cache' })).json();
  const box = await caches.open(KEPT);
  await box.addAll(['./', ...files].map((f) => new Request(f, { cache: 'no-cache' })));
  await self.skipWaiting();
}

self.addEventListener('fetch', (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== 'GET' || url.origin !== location.origin || url.pathname.includes('/api/')) return;
  e.respondWith(answer(e.request));
});

async function answer(request) {
  const box = await caches.open(KEPT);
  try {
    const fresh = await fetch(request);
    if (fresh.ok) await box.put(request, fresh.clone());
    return fresh;
  } catch (err) {
    const kept = await box.match(request, { ignoreSearch: true, ignoreVary: true }); // in whatever language it was kept
    if (kept) return kept;
    throw err;
  }
}

// A message came. It is encrypted on its way, and opened by the browser itself.
self.addEventListener('push', (e) => {
  const m = e.data ? e.data.json() : {};
  e.waitUntil(self.registration.showNotification(m.title || 'leavend', {
    body: m.text || '', tag: m.tag, renotify: Boolean(m.tag), requireInteraction: Boolean(m.urgent), icon: 'icon-192.png', data: { link: m.link || './' },
  }));
});

self.addEventListener('notificationclick', (e) => {
  e.notification.close();
  e.waitUntil(self.clients.openWindow(e.notification.data.link));
});
