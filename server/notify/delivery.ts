import type { Message, Picture } from '../escalation/message.ts';

/**
 * One way out of the house. `send` hands over one message and returns when the other side has taken it.
 * Constructors do nothing; what a channel holds open is opened by `start` or the first `send`, and closed by `stop`.
 */
export interface ChannelAdapter {
  /** @throws DeliveryFailure */
  send(message: Message, given: SendWith): Promise<void>;
  start?(): void;
  /** How things stand, for channels that keep it where others can look; called again and again, the same or not. */
  show?(standing: LineStanding): void;
  stop?(): Promise<void>;
}

/** How the line stands, for machines: what is told of it beyond messages. Times UTC ms. */
export interface LineStanding {
  readonly line: string;
  readonly sentence: string;
  readonly severity: string;
  readonly stage: string;
  readonly alarms: readonly {
    readonly id: number;
    readonly type: string;
    readonly title: string;
    readonly priority: string;
    readonly state: string;
    readonly sentence: string;
    readonly raisedMs: number;
  }[];
}

export interface SendWith {
  /** Aborted when it takes too long, or the service stops. */
  readonly signal: AbortSignal;
  /** '' = not known. */
  readonly pageAddress: string;
  /** A picture of the strand that the message speaks of; null = there is none, or not within that time, ms. */
  picture(withinMs: number): Promise<Picture | null>;
}

/**
 * Why a message was not taken. `again` = later perhaps; `refused` = this message never; `gone` = the other end does not
 * exist any more, so the channel goes too.
 */
export class DeliveryFailure extends Error {
  readonly outcome: 'again' | 'refused' | 'gone';
  readonly remedy: string;
  /** Not before so long, where the other side said so, ms. */
  readonly retryAfterMs: number | null;

  constructor(
    outcome: DeliveryFailure['outcome'],
    message: string,
    remedy: string,
    more: { readonly retryAfterMs?: number | null; readonly cause?: unknown } = {},
  ) {
    super(message, { cause: more.cause });
    this.name = 'DeliveryFailure';
    this.outcome = outcome;
    this.remedy = remedy;
    this.retryAfterMs = more.retryAfterMs ?? null;
  }
}
