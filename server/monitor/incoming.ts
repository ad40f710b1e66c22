import { type Missing, missingOf } from '../proposal/missing.ts';
import { type ProposedRole, propose } from '../proposal/propose.ts';
import type { DroppedLine } from '../reading/intake-options.ts';
import { isRole, type Role } from '../reading/names.ts';
import type { SeenField } from '../reading/seen-fields.ts';
import type { Shape } from '../reading/shape.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { BaudRate } from './line/rate-watch.ts';

type Mapping = LineSettings['roles'][number];

/** What comes over the link, before it is given a meaning. */
export interface LinkContents {
  readonly shape: Shape | null;
  readonly readingsPerS: number;
  readonly lastLine: string;
  readonly fields: readonly SeenField[];
  /** Newest first. */
  readonly dropped: readonly DroppedLine[];
  /** Bytes arrive, but they are not text: the baud rate may be wrong. */
  readonly isNoText: boolean;
  /** Text arrives, but longer than any line without a line end. */
  readonly lacksLineEnds: boolean;
  /** null = the source has none. */
  readonly baud: BaudRate | null;
}

/** A field of the lines, with what it means. */
interface IncomingField extends SeenField {
  /** What it counts as now; null = nothing. */
  readonly role: Role | null;
  /** null = it has its role by its name, or none. */
  readonly mapping: Mapping | null;
}

/** What the line sends, what it means, and what is still needed to watch it. */
export interface Incoming extends Omit<LinkContents, 'fields'> {
  readonly fields: readonly IncomingField[];
  /** For fields without a role, but not for those that are not to be used; nothing that the settings already say. */
  readonly proposed: readonly ProposedRole[];
  readonly missing: readonly Missing[];
}

export function incoming(contents: LinkContents, settings: LineSettings): Incoming {
  const { roles, nominalMm, setSpeedMmPerS, setpointsC, pathMeasured, unusedFields } = settings;
  const mappedRoles = new Set(roles.map(({ role }) => role));
  const fields = contents.fields.map((field): IncomingField => {
    const mapping = roles.find(({ name }) => name === field.name) ?? null;
    const own = contents.shape !== 'text' && isRole(field.name) && !mappedRoles.has(field.name) ? field.name : null;
    const mapped = mapping !== null && isRole(mapping.role) ? mapping.role : null;
    return { ...field, role: mapped ?? own, mapping };
  });
  const has = new Set(fields.flatMap(({ role }) => role ?? []));
  const isAxis = (role: Role) => /^d[xy]?$/.test(role);
  const hasDiameter = [...has].some(isAxis);
  const isFree = (name: string) =>
    !unusedFields.includes(name) && fields.some((field) => field.name === name && field.role === null);
  const proposed = propose(contents.fields, nominalMm).filter(
    ({ name, role }) => isFree(name) && !has.has(role) && !(hasDiameter && isAxis(role)),
  );
  // Pins may find exactly 1 and 0. Numbers that were typed in are a calibration too.
  const isCalibrated = ({ calibrated, factor, offset }: Mapping) => calibrated === true || factor !== 1 || offset !== 0;
  const calibrated = roles.some((mapping) => /^d[xy]?$/.test(mapping.role) && isCalibrated(mapping));
  return {
    ...contents,
    fields,
    proposed,
    missing: missingOf({ roles: has, setSpeedMmPerS, setpointsC, pathConfirmed: pathMeasured, calibrated }),
  };
}
