import type { Source, SourceListener } from './source.ts';

/** No source is chosen, so nothing is read. The line is real, so that its silence is a fault. */
export class MissingSource implements Source {
  readonly title = 'no source';
  readonly timing = 'live';
  readonly resumable = false;
  readonly isMissing = true;

  start(listener: SourceListener): void {
    const text = 'No source of the reading lines is chosen, so nothing is read. Choose the source on the Set-up page.';
    listener.status({ phase: 'waiting', text });
  }

  async stop(): Promise<void> {}
}
