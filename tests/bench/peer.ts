import type { Batch } from './generated-night.ts';

/** A column that has readings. */
export interface PeerColumn {
  readonly at: number;
  readonly count: number;
  readonly min: number;
  readonly max: number;
  readonly mean: number;
}

/** An obvious alternative: it stores the same readings and answers the same query about the diameter. */
export interface Peer {
  take(batch: Batch): Promise<void>;
  /** Equal columns of time in UTC ms. */
  window(from: number, to: number, columns: number): Promise<PeerColumn[]>;
  /** Bytes on disk. */
  close(): Promise<number>;
}
