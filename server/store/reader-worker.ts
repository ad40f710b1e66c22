import { parentPort, workerData } from 'node:worker_threads';
import { packedWindow } from '../monitor/window-bytes.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { openDatabase } from './database.ts';
import type { WorkerAnswer, WorkerQuestion } from './reader-thread.ts';
import { runPieces } from './run-pieces.ts';
import { type SampleColumns, SampleQueries } from './samples/sample-queries.ts';

/** The thread that answers questions about samples, on a read-only connection of its own. */
const port = parentPort!;
const database = openDatabase(workerData.folder as string, true);
const queries = new SampleQueries(database.db, (damage) => answer({ damage }));
const pieces = runPieces(database.db, (damage) => answer({ damage }));

port.on('message', (question: WorkerQuestion | 'close') => {
  if (question === 'close') {
    database.close();
    port.close();
    return;
  }
  resultOf(question).then(
    ({ result, handOver }) => answer({ id: question.id, result }, handOver),
    (thrown) => {
      const problem = thrown instanceof Problem ? thrown.parts : null;
      answer({ id: question.id, message: messageOf(thrown), problem });
    },
  );
});

interface Result {
  readonly result: unknown;
  /** What goes over to the one who asked, rather than being copied. */
  readonly handOver: readonly ArrayBuffer[];
}

/** Packing goes on beside the next question; all else is done at once. */
async function resultOf(question: WorkerQuestion): Promise<Result> {
  switch (question.what) {
    case 'window':
      return { result: queries.window(question.query, question.tail), handOver: [] };
    case 'windowBytes': {
      const result = await packedWindow(queries.window(question.query, question.tail), question.pack);
      return { result, handOver: [result.bytes.buffer as ArrayBuffer] };
    }
    case 'extent':
      return { result: queries.extent(question.runId, question.tail), handOver: [] };
    case 'piece':
      return columns(pieces(question.runId, question.first, question.count, question.channels));
    case 'readings': {
      const { runId, fromGaugeMm, toGaugeMm, channels, tail } = question;
      return columns(queries.readings(runId, fromGaugeMm, toGaugeMm, channels, tail));
    }
  }
}

/** The columns of a whole spool are handed over: each lies in a buffer of its own. */
function columns(result: SampleColumns): Result {
  const all = [result.timeMs, result.gaugeMm, ...Object.values(result.values)];
  return { result, handOver: all.map(({ buffer }) => buffer as ArrayBuffer) };
}

function answer(message: WorkerAnswer, handOver: readonly ArrayBuffer[] = []): void {
  port.postMessage(message, handOver);
}
