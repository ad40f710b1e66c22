/**
 * Which functions to make mistakes in when trying all of them would take too long:
 *
 *   node tests/mutation/sample.js LINES SEED FILE…
 *
 * prints `FILE:FIRST-LAST` for functions of about this many lines altogether: the same share of each file. Of small files
 * every few have one function in it. Whole functions are taken, because many mistakes span several lines. Another seed takes
 * others.
 */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import ts from 'typescript';

const [lines, seed, ...files] = process.argv.slice(2);

/** Statements that contain a function, and members of classes. The rest runs only once, when the file is loaded. */
function functionsOf(file) {
  const source = ts.createSourceFile(file, readFileSync(file, 'utf8'), ts.ScriptTarget.Latest);
  const containsFunction = (node) => ts.isFunctionLike(node) || ts.forEachChild(node, containsFunction) === true;
  const isType = (node) => ts.isInterfaceDeclaration(node) || ts.isTypeAliasDeclaration(node);
  const lineAt = (place) => source.getLineAndCharacterOfPosition(place).line + 1;
  return source.statements
    .filter((node) => !isType(node) && containsFunction(node))
    .flatMap((node) => (ts.isClassDeclaration(node) ? [...node.members] : [node]))
    .map((node) => ({ file, first: lineAt(node.getStart(source)), last: lineAt(node.end) }));
}

const length = ({ first, last }) => last - first + 1;
const sum = (functions) => functions.reduce((all, one) => all + length(one), 0);
/** An order that has nothing to do with the order in the file. */
const rank = ({ file, first }) => createHash('sha1').update(`${seed} ${file} ${first}`).digest('hex');

const byFile = files.map(functionsOf);
const share = Math.min(1, Number(lines) / sum(byFile.flat()));
// What one file has too much, because of a long function, the next ones have less; a file too small for one leaves its share.
let owed = 0;
for (const functions of byFile) {
  owed += share * sum(functions);
  const shuffled = functions.toSorted((a, b) => (rank(a) < rank(b) ? -1 : 1));
  for (const one of shuffled) {
    if (owed < length(one) / 2) break;
    owed -= length(one);
    process.stdout.write(`${one.file}:${one.first}-${one.last}\n`);
  }
}
