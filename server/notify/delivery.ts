import type { Message, Picture } from '../escalation/message.ts';

/**
 * Sends messages over one kind of channel. `send` resolves when the receiver has accepted the message. Constructors do
 * nothing: a connection is opened by `start` or the first `send`, and closed by `stop`.
 */
export interface ChannelAdapter {
  /** @throws DeliveryFailure */
  send(message: Message, context: DeliveryContext): Promise<void>;
  start?(): void;
  /** The state of the line, for channels that publish it. Called every second and with each alarm, whether or not it changed. */
  show?(status: LineStatus): void;
  stop?(): Promise<void>;
}

/** The state of the line for other programs. */
export interface LineStatus {
  /** UTC ms */
  readonly atMs: number;
  /** Differs from the one before if something important has changed. */
  readonly important: string;
  json(): string;
}

export interface DeliveryContext {
  /** Aborted when the attempt takes too long or the service stops. */
  readonly signal: AbortSignal;
  /** '' = no one has set it. */
  readonly pageAddress: string;
  /** A picture of the strand that the message is about; null = there is none, or it is not ready within that time. */
  picture(withinMs: number): Promise<Picture | null>;
}

/** Remedy of a failure that may pass without the user. */
export const RETRIED = 'It will be tried again automatically.';

/**
 * Why a message was not delivered. `retry` = a later attempt may succeed; `refused` = this message will never be accepted;
 * `gone` = the receiver does not exist any more, so the channel is removed as well.
 */
export class DeliveryFailure extends Error {
  readonly outcome: 'retry' | 'refused' | 'gone';
  readonly remedy: string;
  /** How long the receiver asked to be left alone, ms; null = it did not ask. */
  readonly retryAfterMs: number | null;
  /** It is not due to the message: no connection could be made, or it was given up for another reason. */
  readonly isUnreached: boolean;

  constructor(
    outcome: DeliveryFailure['outcome'],
    message: string,
    remedy: string,
    more: { readonly retryAfterMs?: number | null; readonly isUnreached?: boolean; readonly cause?: unknown } = {},
  ) {
    super(message, { cause: more.cause });
    this.name = 'DeliveryFailure';
    this.outcome = outcome;
    this.remedy = remedy;
    this.retryAfterMs = more.retryAfterMs ?? null;
    this.isUnreached = more.isUnreached ?? false;
  }
}
