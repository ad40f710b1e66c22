// Shows what was pushed, also while every page is closed. It keeps no copy of the page: what is watched must be live.

self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', (event) => event.waitUntil(self.clients.claim()));

self.addEventListener('push', (event) => {
  let told;
  try {
    told = event.data.json();
  } catch {
    // A browser that gets nothing to show would show a sentence of its own.
    told = { title: 'Strandward', body: 'Something happened on the line. Open the page.', tag: 'unknown', path: '/' };
  }
  const { title, body, tag, path, priority } = told;
  event.waitUntil(
    self.registration.showNotification(title, {
      body,
      tag,
      // A newer message about the same alarm must sound again.
      renotify: true,
      requireInteraction: priority === 'high',
      vibrate: priority === 'high' ? [400, 150, 400, 150, 400] : [200],
      icon: '/icon-192.png',
      badge: '/icon-192.png',
      data: { path },
    }),
  );
});

self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  event.waitUntil(self.clients.openWindow(event.notification.data?.path ?? '/'));
});
