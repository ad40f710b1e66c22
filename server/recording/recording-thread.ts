import { Worker } from 'node:worker_threads';
import type { JudgedRecording, RecordingOrder, RecordingProgress, RecordingRoom } from '../monitor/recording.ts';
import { Problem, type ProblemParts } from '../problem/problem.ts';
import { judgeRecording } from './judge-recording.ts';
import { surveyFile } from './survey-file.ts';

export type RecordingReply =
  | { readonly progress: RecordingProgress }
  | { readonly done: JudgedRecording }
  | { readonly failed: string; readonly problem: ProblemParts | null };

/** Where the worker's code lies: beside this file, once it is built. Node 20 runs no TypeScript in a worker. */
const WORKER = import.meta.url.endsWith('.ts') ? null : new URL('./recording-worker.js', import.meta.url);
/** One that does not hear that it should stop is ended. */
const STOP_WITHIN_MS = 5000;

/** Judging a night takes some ten seconds: on a thread of its own it delays no reading and no alarm. */
export function recordingRoom(): RecordingRoom {
  return { survey: surveyFile, judge: WORKER === null ? judgeRecording : judgeOn(WORKER) };
}

function judgeOn(code: URL): RecordingRoom['judge'] {
  return (order: RecordingOrder, progress, stop) =>
    new Promise((resolve, reject) => {
      const worker = new Worker(code, { workerData: order });
      let end: NodeJS.Timeout | undefined;
      let outcome: (() => void) | null = null;
      const halt = () => {
        worker.postMessage('stop');
        end = setTimeout(() => worker.terminate(), STOP_WITHIN_MS);
      };
      worker.on('message', (reply: RecordingReply) => {
        if ('progress' in reply) progress(reply.progress);
        else if ('done' in reply) outcome = () => resolve(reply.done);
        else outcome = () => reject(thrownOf(reply));
      });
      worker.on('error', (thrown) => {
        outcome ??= () => reject(thrown);
      });
      // Its files are closed only then, and may be removed.
      worker.on('exit', () => {
        clearTimeout(end);
        stop.removeEventListener('abort', halt);
        if (outcome === null) reject(new Error('The thread that judges the log ended.'));
        else outcome();
      });
      stop.addEventListener('abort', halt, { once: true });
      if (stop.aborted) halt();
    });
}

function thrownOf({ failed, problem }: Extract<RecordingReply, { failed: string }>): Error {
  return problem === null ? new Error(failed) : Problem.of(problem);
}
