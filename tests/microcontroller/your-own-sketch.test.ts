import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { isRole, ROLES } from '../../server/reading/names.ts';
import { parseLine } from './line-listener.ts';
import { BUILD_FOLDER, compileForThisComputer, MICROCONTROLLER_FOLDER } from './toolchain.ts';

const page = readFileSync(join(MICROCONTROLLER_FOLDER, 'your-own-sketch.md'), 'utf8');

describe('the page about your own sketch', () => {
  let program: string;

  beforeAll(async () => {
    const code = /```c\n([\s\S]*?)```/.exec(page)?.[1];
    if (!code) throw new Error('your-own-sketch.md has no C code.');
    mkdirSync(BUILD_FOLDER, { recursive: true });
    const source = join(BUILD_FOLDER, 'page-checksum.c');
    writeFileSync(
      source,
      `#include <stdio.h>\n${code}\nint main(int n, char **v) { return n == 2 ? printf("%02X", line_checksum(v[1])) != 2 : 2; }\n`,
    );
    program = await compileForThisComputer('page-checksum', [source]);
  });

  const checksum = (text: string) => spawnSync(program, [text], { encoding: 'utf8' }).stdout;

  // NMEA 0183 sentences as received: GPGGA from mpt-internal.uni-hohenheim.de's NMEA page; the others from the log
  // gps02001420_raw.txt of NOAA's cruise ATOMIC 2020 (downloads.psl.noaa.gov). The checksum is of the text between $ and *.
  test.each([
    ['GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,', '47'],
    ['GPHDT,74.20,T', '34'],
    ['GPZDA,195959.00,14,01,2020,00,00', '6A'],
    ['GPVTG,147.44,T,164.31,M,0.26,N,0.49,K,D', '2C'],
  ])('has a checksum function that agrees with the published sentence %s*%s', (text, digits) => {
    expect(checksum(text)).toBe(digits);
  });

  test('has an example line with a correct checksum', () => {
    const example = page.split('\n').find((line) => /^ {4}ms=.*\*/.test(line)) ?? '';
    expect(parseLine(example.trim(), 0).hasCorrectChecksum).toBe(true);
  });

  test('lists every name of the contract and no other', () => {
    const table = page.split('\n').filter((line) => line.startsWith('| `'));
    const names = table.flatMap((row) => {
      const cell = row.split('|')[1] ?? '';
      return [...cell.matchAll(/`(\w+)`(?:…`(\w+)`)?/g)].flatMap(([, first = '', last]) =>
        last ? Array.from({ length: 8 }, (_, i) => `${first.slice(0, 1)}${i + 1}`) : [first],
      );
    });
    const inRemarks = [...page.matchAll(/\(`(dx)`, `(dy)` on two axes\)/g)].flatMap(([, dx = '', dy = '']) => [dx, dy]);
    expect([...names, ...inRemarks].sort()).toEqual([...ROLES].sort());
    expect(names.every(isRole)).toBe(true);
  });
});
