import { describe, expect, it } from 'vitest';
import { WindowFetcher } from '../../web/chart/window-fetcher.ts';

/** A service whose answers the test releases. */
function slowService() {
  const asked: { question: number; answer: (n: number) => void; signal: AbortSignal }[] = [];
  const answers: number[] = [];
  const failures: unknown[] = [];
  const asker = new WindowFetcher<number, number>(
    (question, signal) =>
      new Promise((answer, fail) => {
        asked.push({ question, answer, signal });
        signal.addEventListener('abort', () => fail(new DOMException('stopped', 'AbortError')));
      }),
    (answer) => answers.push(answer),
    (thrown) => failures.push(thrown),
  );
  const until = async (what: () => boolean) => {
    while (!what()) await new Promise((resolve) => setTimeout(resolve, 5));
  };
  return { asker, asked, answers, failures, until };
}

describe('requests for windows while a view is dragged', () => {
  it('start at once, continue with the newest view only, and draw every answer', async () => {
    const { asker, asked, answers, until } = slowService();
    asker.want(() => 1);
    expect(asked.map(({ question }) => question)).toStrictEqual([1]);
    for (const n of [2, 3, 4]) asker.want(() => n);
    expect(asked).toHaveLength(1);
    asked[0]!.answer(10);
    await until(() => asked.length === 2);
    expect(answers).toStrictEqual([10]);
    expect(asked[1]!.question).toBe(4);
    asked[1]!.answer(40);
    await until(() => answers.length === 2);
    expect(answers).toStrictEqual([10, 40]);
  });

  it('are dropped without an error when the chart is removed', async () => {
    const { asker, asked, answers, failures, until } = slowService();
    asker.want(() => 1);
    asker.want(() => 2);
    asker.stop();
    expect(asked[0]!.signal.aborted).toBe(true);
    await new Promise((resolve) => setTimeout(resolve, 200));
    expect(asked).toHaveLength(1);
    // Its answer may still arrive.
    asker.want(() => 3);
    await until(() => asked.length === 2);
    asked[1]!.answer(30);
    await until(() => answers.length === 1);
    expect(failures).toStrictEqual([]);
  });
});
