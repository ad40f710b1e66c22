// Shows what was pushed, also while every page is closed. It keeps no copy of the page: what is watched must be live.

self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', (event) => event.waitUntil(self.clients.claim()));

self.addEventListener('push', (event) => {
  let message;
  try {
    message = event.data.json();
  } catch {
    // A browser that gets nothing to show would show a sentence of its own.
    message = {
      title: 'Strandward',
      body: 'Something happened on the line. Open the page.',
      tag: 'unknown',
      path: '/',
    };
  }
  event.waitUntil(show(message));
});

async function show({ title, body, tag, path, picture, priority, quiet }) {
  const options = {
    body,
    tag,
    // A newer message about the same thing must sound again, unless it can wait.
    renotify: !quiet,
    requireInteraction: priority === 'high',
    vibrate: priority === 'high' ? [400, 150, 400, 150, 400] : [200],
    icon: '/icon-192.png',
    badge: '/icon-192.png',
    data: { path, at: Date.now() },
  };
  await self.registration.showNotification(title, options);
  // What wakes somebody waits for no picture. It comes silently afterwards, if this device reaches the page at all.
  if (!picture || !('image' in Notification.prototype)) return;
  const image = await fetched(picture);
  const [shown] = await self.registration.getNotifications({ tag });
  // Put aside by now, or a newer message has taken its place.
  if (image === null || shown?.data?.at !== options.data.at) return;
  const { vibrate: _, ...silently } = options;
  await self.registration.showNotification(title, { ...silently, image, renotify: false, silent: true });
}

const PICTURE_WITHIN_MS = 8000;

/** As a data address: what shows the notification then fetches nothing. null = it cannot be had in time. */
async function fetched(picture) {
  try {
    const answer = await fetch(picture, { signal: AbortSignal.timeout(PICTURE_WITHIN_MS) });
    if (!answer.ok) return null;
    const bytes = new Uint8Array(await answer.arrayBuffer());
    return `data:image/png;base64,${btoa(String.fromCharCode(...bytes))}`;
  } catch {
    return null;
  }
}

self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  event.waitUntil(self.clients.openWindow(event.notification.data?.path ?? '/'));
});
