import { parentPort, workerData } from 'node:worker_threads';
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
  const { id } = question;
  try {
    const result = resultOf(question);
    answer(
      { id, result },
      question.what === 'readings' || question.what === 'piece' ? buffersOf(result as SampleColumns) : [],
    );
  } catch (thrown) {
    const problem = thrown instanceof Problem ? { code: thrown.code, remedy: thrown.remedy } : null;
    answer({ id, message: messageOf(thrown), problem });
  }
});

function resultOf(question: WorkerQuestion): unknown {
  switch (question.what) {
    case 'window':
      return queries.window(question.query, question.tail);
    case 'extent':
      return queries.extent(question.runId, question.tail);
    case 'piece':
      return pieces(question.runId, question.first, question.count, question.channels);
    case 'readings': {
      const { runId, fromGaugeMm, toGaugeMm, channels, tail } = question;
      return queries.readings(runId, fromGaugeMm, toGaugeMm, channels, tail);
    }
  }
}

/** The columns of a whole spool are handed over, not copied: each lies in a buffer of its own. */
function buffersOf(columns: SampleColumns): ArrayBuffer[] {
  return [columns.timeMs, columns.gaugeMm, ...Object.values(columns.values)].map(({ buffer }) => buffer as ArrayBuffer);
}

function answer(message: WorkerAnswer, handOver: readonly ArrayBuffer[] = []): void {
  port.postMessage(message, handOver);
}
