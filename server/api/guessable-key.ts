import { Problem } from '../problem/problem.ts';
import { openWorker, workerCode } from '../worker/open-worker.ts';

/** A key that takes more tries than 10 to this power will not be found: after a few wrong ones an address waits a minute for each. */
const TRIES_LOG10_MIN = 9;

/** The dictionaries take 60 MB, so they are loaded only where a key is estimated. */
async function openEstimator() {
  const [{ ZxcvbnFactory }, common, english] = await Promise.all([
    import('@zxcvbn-ts/core'),
    import('@zxcvbn-ts/language-common'),
    import('@zxcvbn-ts/language-en'),
  ]);
  const dictionary = { ...common.dictionary, ...english.dictionary };
  return new ZxcvbnFactory({ dictionary, graphs: common.adjacencyGraphs });
}

export const createKeyWork = () => {
  let estimator: ReturnType<typeof openEstimator> | undefined;
  return {
    /** Whether a key is among the first that someone tries (OWASP ASVS 5.0, 6.2.4). */
    async isGuessable(key: string): Promise<boolean> {
      estimator ??= openEstimator();
      return (await estimator).check(key).guessesLog10 < TRIES_LOG10_MIN;
    },
  };
};

/** @throws Problem `bad-setting` */
export async function refuseGuessable(key: string): Promise<void> {
  const code = workerCode(import.meta.url, 'key-worker');
  const worker = openWorker({ task: 'estimates the access key', code, create: createKeyWork, start: null });
  try {
    if (!(await worker.call('isGuessable', [key]))) return;
  } finally {
    await worker.close();
  }
  throw new Problem(
    'bad-setting',
    'The access key is easily guessed: it is a common password, consists of common words or names, repeats itself or follows the keyboard.',
    'Choose another, preferably at random.',
  );
}
