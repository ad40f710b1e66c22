import type { DeliveryFailure } from './delivery.ts';
import { asNetworkFailure } from './network-errors.ts';

export interface Post {
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string | Uint8Array<ArrayBuffer>;
  readonly signal: AbortSignal;
}

/**
 * POST to the address that a user entered. Redirects are not followed.
 * @throws DeliveryFailure if it cannot be reached; what `refusal` returns if it answers with an error
 */
export async function post(
  url: URL,
  { headers, body, signal }: Post,
  refusal: (response: Response) => DeliveryFailure,
): Promise<void> {
  let response: Response;
  try {
    response = await fetch(url, { method: 'POST', headers, body, redirect: 'manual', signal });
    // The answer does not matter, but an unread body would keep the connection busy.
    await response.body?.cancel();
  } catch (thrown) {
    throw asNetworkFailure(thrown, url.host, signal);
  }
  if (!response.ok) throw refusal(response);
}

/** RFC 9110, section 10.2.3: seconds or a date. null = missing or not understood. */
export function retryAfterMs(header: string | null, nowMs: number): number | null {
  if (header === null) return null;
  if (/^\d+$/.test(header.trim())) return Number(header) * 1000;
  const at = Date.parse(header);
  return Number.isNaN(at) ? null : Math.max(0, at - nowMs);
}
