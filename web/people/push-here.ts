import type { PushSettings } from '../../server/escalation/channel.ts';
import { ServiceProblem } from '../service/request.ts';

/** Why this browser cannot receive notifications while the page is closed; null = it can. */
export function whyNoPush(): string | null {
  if (!isSecureContext) {
    return 'This page was loaded over plain HTTP, and browsers show notifications only for pages over HTTPS (or on the machine itself). Start Strandward with “--https own-ca” for them.';
  }
  if ('PushManager' in window && 'serviceWorker' in navigator) return null;
  // iOS supports it from 16.4 on, and only for pages on the home screen.
  return 'This browser has no push notifications. On an iPhone or iPad add this page to the home screen first, and open it from there.';
}

/** "Chrome on Android": a name by which people recognise the device. */
export function deviceName(): string {
  const agent = navigator.userAgent;
  const first = (pairs: readonly (readonly [RegExp, string])[], otherwise: string) =>
    pairs.find(([pattern]) => pattern.test(agent))?.[1] ?? otherwise;
  const browser = first(
    [
      [/Edg\//, 'Edge'],
      [/Firefox\//, 'Firefox'],
      [/Chrome\//, 'Chrome'],
      [/Safari\//, 'Safari'],
    ],
    'Browser',
  );
  const system = first(
    [
      [/Android/, 'Android'],
      [/iPhone|iPad/, 'iOS'],
      [/Mac OS/, 'Mac'],
      [/Windows/, 'Windows'],
      [/Linux/, 'Linux'],
    ],
    'this device',
  );
  return `${browser} on ${system}`;
}

/**
 * Subscribes this browser to push notifications. Call from a press.
 * @throws ServiceProblem with what is wrong and what to do
 */
export async function subscribeHere(pushKey: string): Promise<PushSettings> {
  if ((await Notification.requestPermission()) !== 'granted') {
    throw new ServiceProblem(
      0,
      'The browser does not allow notifications here.',
      'Allow them in its settings for this page.',
    );
  }
  const worker = await navigator.serviceWorker.register('/service-worker.js');
  await navigator.serviceWorker.ready;
  const applicationServerKey = Uint8Array.from(atob(pushKey.replaceAll('-', '+').replaceAll('_', '/')), (c) =>
    c.charCodeAt(0),
  );
  const before = await worker.pushManager.getSubscription();
  if (before !== null && isFor(applicationServerKey, before)) return settingsOf(before);
  // A subscription for other keys (of another service, or another record) does not work here.
  await before?.unsubscribe();
  const subscription = await worker.pushManager
    .subscribe({ userVisibleOnly: true, applicationServerKey })
    .catch((thrown: unknown) => {
      const why = thrown instanceof Error ? thrown.message : String(thrown);
      throw new ServiceProblem(
        0,
        `The browser could not subscribe: ${why}`,
        'Push needs the internet. Is this device online?',
      );
    });
  return settingsOf(subscription);
}

function isFor(key: Uint8Array, { options: { applicationServerKey } }: PushSubscription): boolean {
  if (applicationServerKey === null) return false;
  const own = new Uint8Array(applicationServerKey);
  return own.length === key.length && own.every((byte, at) => byte === key[at]);
}

function settingsOf(subscription: PushSubscription): PushSettings {
  const { endpoint = '', keys } = subscription.toJSON();
  return { kind: 'push', endpoint, p256dh: keys?.p256dh ?? '', auth: keys?.auth ?? '' };
}
