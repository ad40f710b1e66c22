import { type Answer, ask, isSuccess } from './ask.ts';
import type { DeliveryFailure } from './delivery.ts';
import { asNetworkFailure } from './network-errors.ts';

export interface Post {
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string | Uint8Array;
  readonly signal: AbortSignal;
}

/**
 * POST to the address that a user entered. Redirects are not followed.
 * @throws DeliveryFailure if it cannot be reached; what `refusal` returns if it answers with an error
 */
export async function post(
  url: URL,
  { headers, body, signal }: Post,
  refusal: (answer: Answer) => DeliveryFailure,
): Promise<void> {
  let answer: Answer;
  try {
    answer = await ask(url, { method: 'POST', headers, body, signal });
  } catch (thrown) {
    throw asNetworkFailure(thrown, url.host, signal);
  }
  if (!isSuccess(answer)) throw refusal(answer);
}

/** RFC 9110, section 10.2.3: seconds or a date. null = missing or not understood. */
export function retryAfterMs(header: string | undefined, nowMs: number): number | null {
  if (header === undefined) return null;
  if (/^\d+$/.test(header.trim())) return Number(header) * 1000;
  const at = Date.parse(header);
  return Number.isNaN(at) ? null : Math.max(0, at - nowMs);
}
