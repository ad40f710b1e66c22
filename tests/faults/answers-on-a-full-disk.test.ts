/** What a user enters on a full disk is refused, not answered and then lost; it succeeds when there is space again. */
import { execFileSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { MUTE, startTestService, type TestService } from '../api/test-service.ts';

function smallDisk(): string | null {
  const folder = mkdtempSync(join(tmpdir(), 'small-disk-'));
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=4m', 'tmpfs', folder], { stdio: 'ignore' });
    return folder;
  } catch {
    rmSync(folder, { recursive: true });
    return null;
  }
}

const disk = smallDisk();
let service: TestService;
let silent: AlarmView;

/** Another program fills the disk to the last byte. */
function fill(): void {
  const file = openSync(join(disk!, 'films'), 'w');
  try {
    for (;;) writeSync(file, Buffer.alloc(4096));
  } catch (thrown) {
    expect((thrown as NodeJS.ErrnoException).code).toBe('ENOSPC');
  } finally {
    closeSync(file);
  }
}

const post = (path: string, body?: unknown) => service.send('POST', path, body);
const standing = () => service.get<AlarmView[]>('/api/alarms');

describe.skipIf(disk === null)('answers of users on a full disk', () => {
  beforeEach(async () => {
    const before = process.env.TMPDIR;
    process.env.TMPDIR = disk!;
    try {
      service = await startTestService(MUTE, { freeSpaceAlarmGb: 0 });
    } finally {
      if (before === undefined) delete process.env.TMPDIR;
      else process.env.TMPDIR = before;
    }
    service.monitor.start();
    await expect.poll(async () => (await standing()).map(({ type }) => type)).toContain('lineSilent');
    silent = (await standing()).find(({ type }) => type === 'lineSilent')!;
  });
  afterEach(async () => {
    rmSync(join(disk!, 'films'), { force: true });
    await service.stop();
    execFileSync('umount', ['-l', disk!]);
    rmSync(disk!, { recursive: true });
  });

  it('are refused with 507 and change nothing; the headline says so; with space they are kept', async () => {
    fill();
    const refused = { status: 507, body: { code: 'record-failing', title: expect.stringMatching(/is full/) } };
    const shelving = { forMin: 5, reason: 'cable is being changed' };
    expect(await post(`/api/alarms/${silent.id}/acknowledge`)).toMatchObject(refused);
    expect(await post('/api/alarms/acknowledge-all')).toMatchObject(refused);
    expect(await post(`/api/alarms/${silent.id}/shelve`, shelving)).toMatchObject(refused);
    expect(await post('/api/stage', { stage: 'winding' })).toMatchObject(refused);
    expect(await post('/api/heat/forget')).toMatchObject(refused);
    const notReady = { status: 503, body: { code: 'not-ready', title: expect.stringMatching(/is full/) } };
    expect(await service.send('GET', '/ready')).toMatchObject(notReady);
    const state = () => service.get<LiveState>('/api/state');
    expect((await state()).stage.stage).toBe('stopped');
    expect((await standing()).find(({ id }) => id === silent.id)).toMatchObject({
      state: 'unacknowledged',
      acknowledgedMs: null,
    });
    expect(service.store.writer.standingAlarms()).toMatchObject([{ id: silent.id, state: 'unacknowledged' }]);
    await expect.poll(async () => (await standing()).map(({ type }) => type)).toContain('recordFailing');
    await expect.poll(async () => (await state()).sentence).toMatch(/record/i);

    rmSync(join(disk!, 'films'));
    expect((await post(`/api/alarms/${silent.id}/acknowledge`)).status).toBe(200);
    const stored = service.store.writer.standingAlarms().find(({ id }) => id === silent.id);
    expect(stored).toMatchObject({ state: 'acknowledged' });
    await expect.poll(async () => service.monitor.snapshot().recordTrouble).toBeNull();
  });
});
