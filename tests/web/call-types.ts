/** Checked by the compiler, never run: an incomplete call must not compile. */
import { addressOf } from '../../web/service/address.ts';
import { call } from '../../web/service/call.ts';

export async function calls(): Promise<void> {
  const printers = await call('GET /api/printers');
  const names: readonly string[] = printers.map(({ name }) => name);
  // @ts-expect-error there is no such field in the answer
  printers.map(({ nickname }) => nickname);

  await call('DELETE /api/printers/:id', { params: { id: 1 }, signal: AbortSignal.timeout(1000) });
  // @ts-expect-error a param is missing
  await call('DELETE /api/printers/:id');
  // @ts-expect-error a param is missing
  await call('DELETE /api/printers/:id', { params: {} });
  // @ts-expect-error a param is of the wrong type
  await call('DELETE /api/printers/:id', { params: { id: names[0] } });

  await call('POST /api/stage', { body: { stage: 'winding' } });
  // @ts-expect-error the body is missing
  await call('POST /api/stage');
  // @ts-expect-error a field of the body is missing
  await call('POST /api/stage', { body: {} });
  // @ts-expect-error a body may be empty, but it must be there
  await call('PUT /api/alarm-types/:type', { params: { type: 'blob' } });
  await call('PUT /api/alarm-types/:type', { params: { type: 'blob' }, body: {} });
  // @ts-expect-error the body is missing
  await call('PUT /api/settings');
  // This body may be left out.
  await call('POST /api/answers/:token', { params: { token: 't' } });
  // @ts-expect-error no such stage
  await call('POST /api/stage', { body: { stage: 'dancing' } });
  // @ts-expect-error the author belongs in the header
  await call('POST /api/stage', { body: { stage: null, by: 'Ada' } });
  // @ts-expect-error this address takes no body
  await call('POST /api/heat/forget', { body: {} });

  // A parameter with a default may be left out.
  await call('GET /api/log');
  await call('GET /api/log', { query: { limit: 10 } });
  // @ts-expect-error no such query
  await call('GET /api/log', { query: { most: 10 } });

  addressOf('GET /api/alarm-journal', { query: { from: 0, to: 1 } });
  // @ts-expect-error a query is missing
  addressOf('GET /api/alarm-journal', { query: { from: 0 } });
  // @ts-expect-error a query is missing
  addressOf('GET /api/alarm-journal');
  // @ts-expect-error a file is not JSON
  await call('GET /api/alarm-journal', { query: { from: 0, to: 1 } });
  // @ts-expect-error no such address
  await call('GET /api/nothing');
}
