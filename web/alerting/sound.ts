import type { AlarmView } from '../../server/api/contract/alarms.ts';

/** Two tones per pattern. The higher the priority, the higher, faster and more frequent they are. */
type Tone = readonly [startS: number, hz: number, lengthS: number];

const PATTERNS: Record<AlarmView['priority'] | 'lost' | 'ready' | 'trial' | 'tick', readonly Tone[]> = {
  high: [0, 1, 2].flatMap((i): Tone[] => [
    [i * 0.42, 932, 0.17],
    [i * 0.42 + 0.19, 698, 0.17],
  ]),
  medium: [
    [0, 698, 0.22],
    [0.28, 587, 0.22],
    [0.9, 698, 0.22],
    [1.18, 587, 0.22],
  ],
  low: [
    [0, 523, 0.18],
    [0.24, 587, 0.22],
  ],
  lost: [
    [0, 587, 0.35],
    [0.42, 392, 0.55],
    [1.3, 587, 0.35],
    [1.72, 392, 0.55],
  ],
  ready: [
    [0, 523, 0.14],
    [0.18, 659, 0.14],
    [0.36, 784, 0.3],
  ],
  tick: [[0, 1175, 0.06]],
  trial: [
    [0, 523, 0.12],
    [0.16, 698, 0.16],
  ],
};

let context: AudioContext | null = null;

const ANSWER_MS = 1000;

/** Call from a click or key press: browsers allow sound only after one. @returns false = the browser does not allow it */
export async function allowSound(): Promise<boolean> {
  try {
    context ??= new AudioContext();
    // A browser that forbids sound may never answer.
    await Promise.race([context.resume(), new Promise((resolve) => setTimeout(resolve, ANSWER_MS))]);
    return context.state === 'running';
  } catch (thrown) {
    // Some throw, for instance without any sound device.
    console.error(thrown);
    return false;
  }
}

export function play(pattern: keyof typeof PATTERNS): void {
  if (context?.state !== 'running') return;
  for (const [startS, hz, lengthS] of PATTERNS[pattern]) {
    const at = context.currentTime + 0.03 + startS;
    const tone = context.createOscillator();
    const volume = context.createGain();
    tone.type = 'triangle';
    tone.frequency.value = hz;
    // Fade in and out: a hard edge clicks, and a click is easily mistaken for the machine.
    volume.gain.setValueAtTime(0, at);
    volume.gain.linearRampToValueAtTime(0.5, at + 0.015);
    volume.gain.setValueAtTime(0.5, at + lengthS - 0.04);
    volume.gain.linearRampToValueAtTime(0, at + lengthS);
    tone.connect(volume).connect(context.destination);
    tone.start(at);
    tone.stop(at + lengthS + 0.02);
  }
}
