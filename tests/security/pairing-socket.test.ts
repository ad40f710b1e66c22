/** The socket of `strandward pair` and `strandward doctor`, in a service that cannot answer. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { askForDiagnosis, askForInvitation, openPairingSocket } from '../../server/identity/pairing-socket.ts';

it('ends no service that fails to answer, and warns', async () => {
  const dataFolder = mkdtempSync(join(tmpdir(), 'strandward-socket-'));
  const warned: unknown[] = [];
  const fail = () => {
    throw new Error('the disk fails');
  };
  const close = await openPairingSocket({
    dataFolder,
    invite: fail,
    diagnose: fail,
    warn: (_, { why }) => void warned.push(why),
  });
  try {
    const stopped = expect.objectContaining({ code: 'not-running' });
    await expect(askForDiagnosis(dataFolder)).rejects.toStrictEqual(stopped);
    await expect(askForInvitation(dataFolder, 'act')).rejects.toStrictEqual(stopped);
    expect(warned).toStrictEqual(['the disk fails', 'the disk fails']);
  } finally {
    close();
    rmSync(dataFolder, { recursive: true });
  }
});
