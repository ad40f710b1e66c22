import { effect, signal } from '@preact/signals';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { becomesReady } from '../../server/stage/stage-readiness.ts';
import { connection, live } from '../service/live-store.ts';
import { lossSounds, mostUrgent, newlyRaised, REPEAT_MS, tickEveryMs } from './alarm-events.ts';
import { arrivals } from './arrivals.ts';
import { allowSound, play } from './sound.ts';
import { speak, stopSpeaking } from './speech.ts';

const KEY = 'strandward.sound';
const READY = 'The strand has settled, and every zone is at temperature.';

/** Whether this page may sound. `asleep` = turned on, but the browser waits for a first press; `forbidden` = not even after one. */
export const sound = signal<'off' | 'asleep' | 'forbidden' | 'on'>('off');
export const notices = signal<'unsupported' | 'ask' | 'on' | 'blocked'>('unsupported');

function readNotices(): void {
  if (!('Notification' in window) || !isSecureContext) notices.value = 'unsupported';
  else if (Notification.permission === 'granted') notices.value = 'on';
  else notices.value = Notification.permission === 'denied' ? 'blocked' : 'ask';
}

/**
 * Call from a press: turns on sound, and asks for permission to notify where the browser supports it.
 * @param forbidden called if the browser does not allow sound
 */
export async function allowAlerting(forbidden: () => void): Promise<void> {
  sound.value = (await allowSound()) ? 'on' : 'forbidden';
  localStorage.setItem(KEY, 'on');
  if (sound.value === 'forbidden') forbidden();
  play('trial');
  if (notices.value === 'ask') await Notification.requestPermission();
  readNotices();
}

export function stopAlerting(): void {
  sound.value = 'off';
  stopSpeaking();
  localStorage.removeItem(KEY);
}

type Announced = Pick<AlarmView, 'id' | 'title' | 'sentence' | 'firstCheck' | 'priority'>;

/** @param line for an alarm of another line: its name, and an id for its notices */
export function announceAlarm(
  { id, title, sentence, firstCheck, priority }: Announced,
  line?: { readonly id: number; readonly name: string },
): void {
  const tag = line === undefined ? `strandward-${id}` : `strandward-${line.id}-${id}`;
  const head = line === undefined ? title : `${line.name}: ${title}`;
  announce(priority, head, sentence, { body: `${sentence} ${firstCheck}`, tag, priority });
}

/** Sounds and says that nothing is known of another line. */
export function announceLoss(name: string): void {
  if (sound.value !== 'on') return;
  play('lost');
  speak(`The line ${name} is not watched from here.`);
}

function announceReady(): void {
  announce('ready', 'Ready to wind', READY, { body: READY, tag: 'strandward-ready', priority: 'low' });
}

function announce(
  pattern: Parameters<typeof play>[0],
  title: string,
  sentence: string,
  { body, tag, priority }: { body: string; tag: string; priority: AlarmView['priority'] },
): void {
  if (sound.value !== 'on') return;
  play(pattern);
  speak(`${title}. ${sentence}`);
  if (notices.value !== 'on') return;
  try {
    const notice = new Notification(title, { body, tag, requireInteraction: priority === 'high' });
    notice.onclick = () => window.focus();
  } catch {
    // Some phones let only a service worker make notifications. The button then shows "unsupported".
    notices.value = 'unsupported';
  }
}

export function startAlerting(): void {
  readNotices();
  if (localStorage.getItem(KEY) === 'on') {
    sound.value = 'asleep';
    const wake = async () => {
      if (sound.value === 'asleep' && (await allowSound())) sound.value = 'on';
      if (sound.value !== 'asleep') {
        removeEventListener('pointerdown', wake);
        removeEventListener('keydown', wake);
      }
    };
    addEventListener('pointerdown', wake);
    addEventListener('keydown', wake);
  }

  let known: readonly AlarmView[] | null = null;
  let readyMs: number | null | undefined;
  let lastSoundedMs = 0;
  let lossSoundedMs = 0;
  let tickedMs = 0;
  effect(() => {
    const state = live.value;
    if (!state) return;
    // Alarms from before the page was opened are shown, but only later ones sound.
    const fresh = known === null ? [] : newlyRaised(known, state.alarms);
    known = state.alarms;
    const worst = mostUrgent(fresh);
    if (worst) {
      lastSoundedMs = Date.now();
      announceAlarm(worst);
    } else if (becomesReady(readyMs, state.stage.firstReadyMs)) announceReady();
    readyMs = state.stage.firstReadyMs;
    const next = arrivals(state.sections).find(({ kind }) => kind === 'blob');
    const everyMs = next === undefined || connection.value.phase !== 'open' ? null : tickEveryMs(next.inS);
    if (sound.value === 'on' && everyMs !== null && Date.now() - tickedMs >= everyMs) {
      tickedMs = Date.now();
      play('tick');
    }
  });

  setInterval(() => {
    if (sound.value !== 'on') return;
    const nowMs = Date.now();
    const { phase, sinceMs } = connection.value;
    if (phase === 'lost') {
      if (!lossSounds(sinceMs, lossSoundedMs, nowMs)) return;
      lossSoundedMs = nowMs;
      play('lost');
      speak('The connection to Strandward is lost. This device is not watching.');
      return;
    }
    const danger = live.value?.alarms.some((alarm) => alarm.priority === 'high' && alarm.state === 'unacknowledged');
    if (danger && nowMs - lastSoundedMs >= REPEAT_MS) {
      lastSoundedMs = nowMs;
      play('high');
    }
  }, 1000);
}
