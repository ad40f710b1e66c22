import { useEffect } from 'preact/hooks';
import { live } from '../service/live-store.ts';
import { allowAlerting, notices, sound, stopAlerting } from './watch-alarms.ts';

const SOUND_FORBIDDEN =
  'The browser blocks sound on this page. Allow sound for it in the browser’s settings, then press “Sound is blocked” again.';

/**
 * Turns sound and notifications of this page on and off, and shows whether the browser allows them.
 * @param tell shows what to do if it does not allow sound
 */
export function AlertingButton({ tell }: { tell: (text: string) => void }) {
  const on = sound.value === 'on';
  const text = on
    ? notices.value === 'on'
      ? 'Sound and notifications on'
      : notices.value === 'blocked'
        ? 'Sound on, notifications blocked'
        : 'Sound on'
    : sound.value === 'asleep'
      ? 'Tap to enable sound'
      : sound.value === 'forbidden'
        ? 'Sound is blocked'
        : 'Turn on sound and notifications';
  const why =
    on && notices.value === 'unsupported'
      ? 'This browser shows notifications only over HTTPS or on this machine itself.'
      : on && notices.value === 'blocked'
        ? 'The browser’s settings for this page block notifications.'
        : undefined;
  return (
    <button
      type="button"
      class="alerting-button"
      aria-pressed={on}
      title={why}
      data-sound={sound.value}
      onClick={() => (on ? stopAlerting() : allowAlerting(() => tell(SOUND_FORBIDDEN)))}
    >
      <svg width="18" height="18" viewBox="0 0 24 24" aria-hidden="true" focusable="false">
        <path d="M3 9.5v5h4l5.5 4.5V5L7 9.5z" />
        {on ? (
          <path class="line" d="M15.5 8.5a5 5 0 0 1 0 7M18 6a8.5 8.5 0 0 1 0 12" />
        ) : (
          <path class="line" d="m16 9.5 5 5m0-5-5 5" />
        )}
      </svg>
      <span>{text}</span>
    </button>
  );
}

/** Keeps the screen awake while this page is visible and may sound, where the browser allows it. */
export function ScreenWakeLock() {
  const wanted = sound.value === 'on' && live.value !== null;
  useEffect(() => {
    if (!wanted || !('wakeLock' in navigator)) return;
    let lock: WakeLockSentinel | null = null;
    let over = false;
    const take = async () => {
      if (document.visibilityState !== 'visible' || over) return;
      try {
        lock = await navigator.wakeLock.request('screen');
      } catch {
        // Refused on low battery or without HTTPS. The screen then sleeps as the device is set.
        lock = null;
      }
    };
    void take();
    document.addEventListener('visibilitychange', take);
    return () => {
      over = true;
      document.removeEventListener('visibilitychange', take);
      lock?.release();
    };
  }, [wanted]);
  return null;
}
