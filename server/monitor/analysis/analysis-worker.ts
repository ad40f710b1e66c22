import { parentPort } from 'node:worker_threads';
import { messageOf, Problem } from '../../problem/problem.ts';
import type { ToWorker, WorkerAnswer } from './analysis-thread.ts';
import { answerTo } from './questions.ts';
import { SpoolAnalysis } from './spool-analysis.ts';

/** The thread that judges spools: it holds the readings of the one that was asked about last. */
const port = parentPort!;
let analysis: SpoolAnalysis | null = null;

port.on('message', (message: ToWorker) => {
  if ('columns' in message) {
    if (message.more && analysis !== null) analysis.add(message.columns);
    else analysis = new SpoolAnalysis(message.columns);
    return;
  }
  const { id, question } = message;
  try {
    if (analysis === null) throw new TypeError('A question came before the readings that it is about.');
    answer({ id, result: answerTo(analysis, question) });
  } catch (thrown) {
    const problem = thrown instanceof Problem ? thrown.parts : null;
    answer({ id, message: messageOf(thrown), problem });
  }
});

function answer(message: WorkerAnswer): void {
  port.postMessage(message);
}
