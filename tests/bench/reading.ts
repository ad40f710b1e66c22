import { ReadingIntake } from '../../server/reading/intake.ts';
import type { IntakeOptions } from '../../server/reading/intake-options.ts';
import type { BenchRow } from './report.ts';

const LINES = 300_000;
const ROUNDS = 3;
/** Free text may cost so many times the time of the named shape. */
const TEXT_RATIO_MAX = 2;
const OPTIONS: IntakeOptions = { shape: 'auto', checksum: 'auto', columnNames: [], roles: [], recordedStartMs: 0 };

interface Line {
  readonly d: string;
  readonly t1: string;
  readonly t2: string;
  readonly s1: string;
  readonly p1: string;
  readonly v: string;
}

/** The same values in each shape. */
const SHAPES: Readonly<Record<string, (line: Line) => string>> = {
  named: ({ d, t1, t2, s1, p1, v }) => `d=${d} t1=${t1} t2=${t2} s1=${s1} p1=${p1} v=${v}`,
  columns: ({ d, t1, t2, s1, p1, v }) => `${d},${t1},${t2},${s1},${p1},${v}`,
  json: ({ d, t1, t2, s1, p1, v }) => `{"d":${d},"t1":${t1},"t2":${t2},"s1":${s1},"p1":${p1},"v":${v}}`,
  'nested json': ({ d, t1, t2, s1, p1, v }) =>
    `{"gauge":{"d":${d}},"zones":[{"c":${t1},"set":${s1},"duty":${p1}},{"c":${t2}}],"puller":{"v":${v}}}`,
  'free text': ({ d, t1, t2, s1, p1, v }) =>
    `Dia: ${d} mm  Melt: ${t1} C (set ${s1} C, duty ${p1})  Die: ${t2} C  Pull: ${v} mm/s`,
};

/** What reading a line costs in each shape, by processor time; the peer is the named shape. */
export function benchReading(): Promise<BenchRow[]> {
  const rows: BenchRow[] = [];
  const inputs = Object.entries(SHAPES).map(([shape, print]) => ({ shape, bytes: Buffer.from(text(print)) }));
  const costs = new Map<string, number>();
  for (let round = 0; round < ROUNDS; round++) {
    for (const { shape, bytes } of inputs) {
      const cost = microsPerLine(bytes);
      costs.set(shape, Math.min(costs.get(shape) ?? Number.POSITIVE_INFINITY, cost));
    }
  }
  const named = costs.get('named') ?? Number.NaN;
  for (const [shape, cost] of costs) {
    const isText = shape === 'free text';
    rows.push({
      what: `reading a line of six values: ${shape}`,
      value: cost,
      unit: 'CPU µs/line',
      ratio: cost / named,
      ...(isText ? { target: `ratio ≤ ${TEXT_RATIO_MAX}`, met: cost / named <= TEXT_RATIO_MAX } : {}),
    });
  }
  return Promise.resolve(rows);
}

function text(print: (line: Line) => string): string {
  let lines = '';
  for (let i = 0; i < LINES; i++) {
    lines += `${print({
      d: (1.75 + 0.01 * Math.sin(i)).toFixed(3),
      t1: (198 + Math.cos(i)).toFixed(1),
      t2: (205 + Math.sin(i / 3)).toFixed(1),
      s1: '200',
      p1: (0.5 + 0.3 * Math.sin(i / 9)).toFixed(2),
      v: (38 + 0.2 * Math.cos(i / 7)).toFixed(1),
    })}\n`;
  }
  return lines;
}

function microsPerLine(bytes: Buffer): number {
  const intake = new ReadingIntake(OPTIONS);
  let readings = 0;
  const sink = { reading: () => void readings++, note: () => {} };
  const before = process.cpuUsage();
  for (let at = 0; at < bytes.length; at += 4096) intake.push(bytes.subarray(at, at + 4096), null, sink);
  const { user, system } = process.cpuUsage(before);
  if (readings < LINES * 0.99) throw new Error(`only ${readings} of ${LINES} lines were read`);
  return (user + system) / readings;
}
