import { createSimulation } from '../../simulator/index.ts';
import { BOARDS, bytesOf } from '../door/boards.ts';
import { SKETCHES } from '../door/sketches.ts';
import { boardLine, checked } from '../reading/intake-bench.ts';

const CYCLES = 200;
const cycles = <T>(print: (i: number) => T) => Array.from({ length: CYCLES }, (_, i) => print(i));
const linesOf = (text: string) => text.split(/\r?\n/).filter((line) => line !== '');

/** Undamaged lines of every shape and board that the tests know, in latin1; each list is what one board prints. */
export function printedLines(): readonly (readonly string[])[] {
  const simulated = (['named', 'json', 'columns'] as const).map((shape) => {
    const simulation = createSimulation({
      scenario: 'blobs-and-necks',
      seed: 3,
      shape,
      axes: 2,
      also: ['turns', 'amp', 'rh'],
    });
    return [simulation.header ?? '', ...cycles(() => simulation.step())].flatMap(linesOf);
  });
  const columns = cycles((i) => boardLine(i).replace(/\w+=/g, ''));
  return [
    cycles((i) => boardLine(i)),
    cycles((i) => checked(boardLine(i, ` us=${i * 20_000} turns=${i} f1=0 dx=1.75 dy=1.76`))),
    ...simulated,
    ...[',', ';', '\t', ' '].map((mark) => columns.map((line) => line.replaceAll(' ', mark))),
    columns.map((line) => line.replaceAll('.', ',').replaceAll(' ', ';')),
    ...SKETCHES.map((sketch) =>
      cycles((i) => Buffer.from(sketch.print(i / sketch.linesPerS, i)).toString('latin1')).flatMap(linesOf),
    ),
    ...BOARDS.map((board) => cycles((i) => bytesOf(board, i).toString('latin1')).flatMap(linesOf)),
  ];
}
