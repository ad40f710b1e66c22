import { parentPort, workerData } from 'node:worker_threads';
import type { RecordingOrder } from '../monitor/recording.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { judgeRecording } from './judge-recording.ts';
import type { RecordingReply } from './recording-thread.ts';

/** Judges one recorded log, on a thread of its own. */
const port = parentPort!;
const stop = new AbortController();
port.on('message', () => stop.abort());
const reply = (message: RecordingReply) => port.postMessage(message);

judgeRecording(workerData as RecordingOrder, (progress) => reply({ progress }), stop.signal)
  .then((done) => reply({ done }))
  .catch((thrown: unknown) => {
    const problem = thrown instanceof Problem ? thrown.parts : null;
    reply({ failed: messageOf(thrown), problem });
  })
  .finally(() => port.close());
