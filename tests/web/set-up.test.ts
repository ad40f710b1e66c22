import { describe, expect, it } from 'vitest';
import { LineSettings } from '../../server/settings/line-settings.ts';
import { fieldOf } from '../../web/form/field-of.ts';
import { numberFault } from '../../web/form/typed-number.ts';
import { parseNumber } from '../../web/format/numbers.ts';
import { fieldValue } from '../../web/set-up/field-value.ts';
import { GROUPS, ungrouped } from '../../web/set-up/groups.ts';
import { hintOf } from '../../web/set-up/schema-field.tsx';
import type { FieldSchema } from '../../web/set-up/settings-store.ts';
import { partsOf, sourceText } from '../../web/set-up/source-text.ts';

describe('the set-up page', () => {
  it('has a group for every setting of the service', () => {
    expect(ungrouped(Object.keys(LineSettings.properties))).toEqual([]);
    for (const name of GROUPS.flatMap((group) => group.names)) expect(LineSettings.properties).toHaveProperty(name);
  });

  it('shows a setting that is in no group', () => {
    expect(ungrouped(['nominalMm', 'somethingNew', 'source'])).toEqual(['somethingNew']);
  });

  it('never says on the page whether a number has a source', () => {
    const hints = Object.values(LineSettings.properties).map((schema) => hintOf(schema as FieldSchema));
    expect(hints.join(' ')).not.toMatch(/common practice|source:/i);
    expect(hintOf(LineSettings.properties.hotendLimitMm)).toBe(
      "The largest diameter that passes the printer's filament path. 1.90 for 1.75 mm filament. Default: 1.9.",
    );
  });

  it('reports what is wrong with a typed number', () => {
    const schema = { type: 'number', exclusiveMinimum: 0, maximum: 1 };
    expect(numberFault(parseNumber('0'), schema)).toBe('Must be more than 0 and at most 1.');
    expect(numberFault(parseNumber('1,5'), schema)).toBe('Must be more than 0 and at most 1.');
    expect(numberFault(parseNumber('abc'), schema)).toBe('Enter a number.');
    expect(numberFault(parseNumber('0,05'), schema)).toBeNull();
  });

  it('reports which field of which row of a table is wrong', () => {
    const schema = JSON.parse(JSON.stringify(LineSettings.properties.gears));
    const row = { name: 'puller gear', shaft: 'roller', cyclesPerTurn: 30.7 };
    expect(fieldValue(schema, [row])).toEqual({ value: [row], fault: null });
    expect(fieldValue(schema, [row, { ...row, cyclesPerTurn: 0 }]).fault).toBe(
      'Row 2, cycles a turn: Must be more than 0 and at most 10000.',
    );
    expect(fieldValue(schema, [{ ...row, name: ' ' }]).fault).toMatch(/^Row 1, name: Enter it/);
    expect(fieldValue(schema, [])).toEqual({ value: [], fault: null });
  });

  it('shows a refusal at the setting that it points to', () => {
    const names = ['nominalMm', 'roles', 'toleranceMm'];
    expect(fieldOf({ pointer: '/toleranceMm' }, names)).toBe('toleranceMm');
    expect(fieldOf({ pointer: '/roles/1/factor' }, names)).toBe('roles');
    expect(fieldOf({ pointer: '/somethingNew' }, names)).toBeNull();
    expect(fieldOf({ pointer: null }, names)).toBeNull();
  });

  it('calls the simulator by its name once it is chosen', () => {
    expect(sourceText(partsOf(''))).toBe('simulator:');
  });

  it.each([
    'simulator:',
    'none',
    'simulator:damp-feed?seed=3&pace=2',
    'serial:/dev/serial/by-id/usb-board-if00?baud=250000',
    'tcp:192.0.2.7:2000',
    'file:/var/log/evening.log?pace=max',
  ])('splits the source “%s” and joins it again', (source) => {
    expect(sourceText(partsOf(source))).toBe(source);
  });

  it.each(['/dev/ttyUSB0', 'COM3'])('takes the bare path %s for a serial port', (path) => {
    expect(partsOf(path)).toEqual({ kind: 'serial', path, baud: '115200' });
    expect(partsOf(`${path}?baud=9600`)).toEqual({ kind: 'serial', path, baud: '9600' });
  });
});
