import { request } from 'node:http';
import type { Right } from '../../server/entities/device.ts';
import type { TestService } from '../api/test-service.ts';

export interface Reply {
  readonly status: number;
  // biome-ignore lint/suspicious/noExplicitAny: what came is what the test examines
  readonly body: any;
  readonly cookie: string | null;
}

/** The name by which another device reaches the service. It makes a request foreign to this machine. */
export const hostOf = (service: TestService) => `line.example:${new URL(service.address).port}`;

/** A request as another device sends it, with a Host that `fetch` does not allow. */
export function askAs(
  service: TestService,
  method: string,
  path: string,
  headers: Readonly<Record<string, string>> = {},
  body?: object,
): Promise<Reply> {
  return new Promise((resolve, reject) => {
    const { hostname, port } = new URL(service.address);
    const json = body === undefined ? {} : { 'content-type': 'application/json' };
    const sent = { host: hostOf(service), ...json, ...headers };
    const asked = request({ hostname, port, method, path, headers: sent }, (reply) => {
      let text = '';
      reply.on('data', (chunk) => {
        text += chunk;
      });
      reply.on('end', () =>
        resolve({
          status: reply.statusCode ?? 0,
          body: /json/.test(String(reply.headers['content-type'])) && text !== '' ? JSON.parse(text) : text,
          cookie: reply.headers['set-cookie']?.[0] ?? null,
        }),
      );
      reply.on('error', reject);
    });
    asked.on('error', reject);
    asked.end(body === undefined ? undefined : JSON.stringify(body));
  });
}

/** Headers of a page that the service served to this device. */
export const pageOf = (service: TestService, cookie: string) => ({
  cookie: cookie.split(';')[0] ?? '',
  origin: `http://${hostOf(service)}`,
});

/** A code for another device, from this machine. */
export async function codeFor(service: TestService, right: Right): Promise<string> {
  return ((await service.send('POST', '/api/invitations', { right })).body as { code: string }).code;
}

/** Pairs another device and returns its Set-Cookie header. */
export async function pairedAs(service: TestService, right: Right, name: string): Promise<string> {
  const reply = await askAs(service, 'POST', '/api/devices', {}, { name, code: await codeFor(service, right) });
  if (reply.cookie === null) throw new Error(`Not paired: ${reply.status} ${JSON.stringify(reply.body)}`);
  return reply.cookie;
}
