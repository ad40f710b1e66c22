import fc from 'fast-check';
import { encode } from 'uqr';
import { describe, expect, it } from 'vitest';
import type { CoilDetail } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import { routeOf } from '../../server/entities/page-route.ts';
import { linkOf } from '../../web/label/label-sizes.ts';
import { coilLabel, coilNames, spoolLabel } from '../../web/label/label-text.ts';
import { addressFault, qrPath } from '../../web/shell/qr-path.ts';
import { codeSideMm } from '../../web/shell/qr-size.ts';

/** Paints the path back into modules: each run is "M x y h n v1 h−n z". */
function painted(d: string, size: number): boolean[][] {
  const rows = Array.from({ length: size }, () => Array.from({ length: size }, () => false));
  for (const [, x, y, n] of d.matchAll(/M(\d+) (\d+)h(\d+)v1h-\d+z/g)) {
    for (let k = 0; k < Number(n); k += 1) rows[Number(y)]![Number(x) + k] = true;
  }
  return rows;
}

describe('the code on a label', () => {
  it('draws exactly the dark modules', () => {
    fc.assert(
      fc.property(fc.nat(1e9), fc.stringMatching(/^[a-z]{1,30}$/), (id, host) => {
        const url = `http://${host}.local:8750/spool/${id}`;
        const code = encode(url, { ecc: 'Q', border: 4 });
        expect(JSON.stringify(painted(qrPath(code.data), code.size))).toBe(JSON.stringify(code.data));
      }),
      { numRuns: 12 },
    );
  });

  it('is a QR code: size, finder and timing patterns, quiet zone of four modules', () => {
    // ISO/IEC 18004, 6.3 (from memory): side 17 + 4 × version; finder 7 × 7 in three corners; timing in row and column 6.
    const code = encode('http://strand.local:8750/spool/1', { ecc: 'Q', border: 4 });
    const rows = painted(qrPath(code.data), code.size);
    const side = code.size - 8;
    expect((side - 17) % 4).toBe(0);
    const at = (x: number, y: number) => rows[y + 4]![x + 4]!;
    const FINDER = ['1111111', '1000001', '1011101', '1011101', '1011101', '1000001', '1111111'];
    for (const [x0, y0] of [
      [0, 0],
      [side - 7, 0],
      [0, side - 7],
    ] as const) {
      FINDER.forEach((row, y) => {
        for (let x = 0; x < 7; x += 1) expect(at(x0 + x, y0 + y)).toBe(row[x] === '1');
      });
    }
    for (let k = 8; k < side - 8; k += 1) expect([at(k, 6), at(6, k)]).toEqual([k % 2 === 0, k % 2 === 0]);
    for (let k = 0; k < code.size; k += 1) {
      for (let edge = 0; edge < 4; edge += 1) {
        expect([
          rows[edge]![k],
          rows[code.size - 1 - edge]![k],
          rows[k]![edge],
          rows[k]![code.size - 1 - edge],
        ]).toEqual([false, false, false, false]);
      }
    }
  });

  it('warns if no phone can reach the address', () => {
    expect(addressFault('http://127.0.0.1:8750')).toContain('only this machine');
    expect(addressFault('http://localhost:8750')).not.toBeNull();
    expect(addressFault('http://[::1]:8750')).not.toBeNull();
    expect(addressFault('http://workshop.local:8750')).toBeNull();
  });
});

describe('the link of a label', () => {
  it('is short, in capital letters where these mean the same', () => {
    expect(linkOf('http://workshop.local:8750', 'K7M-R3-1-A')).toBe('HTTP://WORKSHOP.LOCAL:8750/C/K7M-R3-1-A');
    expect(linkOf('https://example.net/line', 'K7M-R3-1')).toBe('https://example.net/line/c/K7M-R3-1');
    expect(routeOf('/C/K7M-R3-1-A')).toEqual({ page: 'labelled', code: 'K7M-R3-1-A' });
    expect(routeOf('/spool/5')).toEqual({ page: 'spool', id: 5 });
  });

  it('has modules of whole dots at 203 dpi, of 0.375 mm at least, also where the code is larger than its place', () => {
    for (const modules of [29, 33, 37, 41, 45, 49]) {
      for (const mostMm of [10, 25, 34]) {
        const moduleMm = codeSideMm(modules, mostMm) / modules;
        expect(moduleMm).toBeGreaterThanOrEqual(0.375);
        expect((moduleMm / 25.4) * 203.2).toBeCloseTo(Math.round((moduleMm / 25.4) * 203.2), 9);
      }
    }
  });
});

describe('the texts on a label', () => {
  it('show the common part of coil names once, and count many', () => {
    expect(coilNames([])).toBe('');
    expect(coilNames(['R3-1 A'])).toBe('R3-1 A');
    expect(coilNames(['R3-1 A', 'R3-1 B', 'R3-1 C'])).toBe('R3-1 A, B and C');
    expect(coilNames(['Blue vase', 'R3-1 B'])).toBe('Blue vase and R3-1 B');
    expect(coilNames(Array.from({ length: 11 }, (_, i) => `R3-1 ${String.fromCharCode(65 + i)}`))).toContain(
      'and 3 more',
    );
  });

  it('never call a coil fit if its ends are in doubt or it contains a bad stretch', () => {
    const coil: CoilDetail['coil'] = {
      ordinal: 1,
      name: 'R3-1 A',
      named: false,
      code: 'K7M-R3-1-A',
      doubts: [],
      state: 'cut',
      condition: 'clean',
      repair: null,
      fromMm: 0,
      toMm: 5000,
      fromOuterMm: 0,
      toOuterMm: 5000,
      lengthMm: 5000,
      doubtfulMm: 0,
      unknownMm: 120,
      grams: 14.9,
      lengthUncertaintyMm: 100,
      gramsUncertainty: 0.6,
    };
    const verdict = { fitness: 'fit', sentence: '', reasons: [], longestCleanPiece: null, afterCutting: null } as const;
    const of = (condition: typeof coil.condition) =>
      coilLabel(
        { coil: { ...coil, condition }, verdict: { ...verdict, reasons: [] }, statistics: null, flow: null },
        'Bench',
      );
    expect(of('clean')).toMatchObject({
      verdict: 'Fit to print. Judged for: Bench',
      length: '5.0\u00a0±\u00a00.1\u00a0m',
      mass: '15\u00a0±\u00a01\u00a0g',
    });
    expect(of('clean').facts).toEqual([]);
    expect(of('clean').cautions).toEqual(['Not measured: 0.12 m']);
    expect(of('clean')).toMatchObject({ name: 'K7M-R3-1 A', code: 'K7M-R3-1-A' });
    expect(of('clean').feeds).toBe('Feeds first: end cut last');
    const doubts = [{ kind: 'blob', doubt: 'oneReading', fromOuterMm: 1, toOuterMm: 2 } as const];
    const doubtful = {
      coil: { ...coil, doubts, named: true, name: 'Vase' },
      verdict: null,
      statistics: null,
      flow: null,
    };
    expect(coilLabel(doubtful, 'Bench')).toMatchObject({
      name: 'Vase',
      cautions: ['In doubt: blob, one reading only', 'Not measured: 0.12 m'],
    });
    expect(of('inDoubt').verdict).toBe('Check its ends');
    expect(of('spoilt').verdict).toBe('Do not print: contains a bad stretch');
    const repaired = (outerMm: number, innerMm: number, leftMm: number) =>
      coilLabel(
        {
          coil: { ...coil, condition: 'spoilt', repair: { outerMm, innerMm, leftMm, sentence: '' } },
          verdict: null,
          statistics: null,
          flow: null,
        },
        'Bench',
      ).cautions[0];
    expect(repaired(0, 840, 4160)).toBe('First cut 0.84 m off its inner end');
    expect(repaired(270, 840, 3890)).toBe('First cut off 0.27 m outside and 0.84 m inside');
    expect(repaired(0, 3000, 0)).toBe('Discard it');
  });
});

describe('the label of a spool', () => {
  const judgement = {
    name: 'R1-1',
    woundMm: 318_300,
    woundUncertaintyMm: 6400,
    mass: { grams: 930, gramsUncertainty: 35 },
    statistics: null,
    flow: null,
    printer: { name: 'Bench printer' },
    verdict: { fitness: 'fitAfterCutting', longestCleanPiece: { fromMm: 0, toMm: 16_200, lengthMm: 16_200 } },
  } as unknown as SpoolJudgement;

  it('shows what was wound while nothing is cut off', () => {
    const text = spoolLabel(judgement, { woundMm: 318_300, cutOffMm: 0, doubtfulMm: 0, code: 'K7M-R3-1' }, []);
    expect([text.length, text.mass]).toEqual(['318.3\u00a0±\u00a06.4\u00a0m', '930\u00a0±\u00a035\u00a0g']);
    expect(text.facts).toContainEqual(['Longest clean', '16.2 m']);
  });

  it('shows what is still on it after cuts, and no piece that may be cut off', () => {
    const text = spoolLabel(judgement, { woundMm: 318_300, cutOffMm: 15_900, doubtfulMm: 120, code: 'K7M-R3-1' }, []);
    expect([text.length, text.mass]).toEqual(['302.4\u00a0±\u00a06.1\u00a0m', '884\u00a0±\u00a033\u00a0g']);
    expect(text.facts).toEqual([['Cut off', '15.9 m']]);
    expect(text.cautions).toEqual(['In doubt: 0.12 m, see the cut list']);
  });
});
