import { Type } from 'typebox';
import type { HouseState } from '../../monitor/house-desk.ts';
import { ProblemView } from '../contract.ts';
import { type Api, By, DEFAULT_WHO, type RouteContext } from './context.ts';

const Backup = Type.Object({ path: Type.String(), timeMs: Type.Number(), bytes: Type.Number() });
const Check = Type.Object({ timeMs: Type.Number(), faults: Type.Array(Type.String()) });
const House = Type.Object(
  {
    recordBytes: Type.Number(),
    freeBytes: Type.Number(),
    backupFolder: Type.String(),
    scheduled: Type.Boolean({ description: 'Backups are made by themselves: a folder was given at start' }),
    backups: Type.Array(Backup),
    backupTrouble: Type.Union([Type.String(), Type.Null()]),
    busy: Type.Union([Type.Literal('backup'), Type.Literal('check'), Type.Null()]),
    check: Type.Union([Check, Type.Null()]),
  },
  { $id: 'House' },
);
const WhoBody = Type.Object({ by: By }, { additionalProperties: false });

/** The record as a thing to be kept: its size, its backups, its health. */
export function houseRoutes(api: Api, { house }: RouteContext): void {
  const state = () => plain(house.state());

  api.get(
    '/api/record',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Size, backups and health of the record',
        response: { 200: House, default: ProblemView },
      },
    },
    state,
  );

  api.post(
    '/api/record/backup',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Make a backup now; answers when it is made and checked',
        body: WhoBody,
        response: { 200: House, default: ProblemView },
      },
    },
    async (request) => {
      await house.backup(request.body.by ?? DEFAULT_WHO);
      return state();
    },
  );

  api.post(
    '/api/record/check',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Read the whole record and see whether it is sound; answers when that is done',
        body: WhoBody,
        response: { 200: House, default: ProblemView },
      },
    },
    async (request) => {
      await house.check(request.body.by ?? DEFAULT_WHO);
      return state();
    },
  );
}

function plain({ backups, check, ...rest }: HouseState) {
  return { ...rest, backups: [...backups], check: check && { ...check, faults: [...check.faults] } };
}
