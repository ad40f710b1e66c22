#!/usr/bin/env bash
# Mutation score: how many small mistakes, made on purpose in the pure rooms one at a time, their tests notice. A condition
# is negated, say, or a sum becomes a difference. Texts are left alone, and so is what runs only once, when a file is loaded.
#
#   bash tests/mutation.sh                   files changed since the last release; all files if there is no release yet
#   bash tests/mutation.sh --since REVISION  files changed since then
#   bash tests/mutation.sh FILE…             these files; prints each mistake that went unnoticed
#   bash tests/mutation.sh --all             every file of the pure rooms, every function: takes hours
#
# The first two try a sample if more has changed: the same share of each file. Which functions depends on the version in
# package.json, so each release tries others.
set -euo pipefail
cd "$(dirname "$0")/.."

# The rule that keeps the rooms pure knows which they are.
pureRooms=$(node --print "require('./.dependency-cruiser.cjs').forbidden.find(({ name }) => name.startsWith('pure-rooms')).from.path")
# Lines in functions; each gives room for one or two mistakes.
mostLines=800
reporters=json,html
case "${1:-}" in
  --all)
    what='of the pure rooms'
    files=$(find server -name '*.ts' | sort)
    mostLines=Infinity
    ;;
  --since | '')
    if revision=${2:-$(git describe --tags --abbrev=0 2>/dev/null)}; then
      what="of the pure rooms that changed since $revision"
      files=$(git diff --name-only --diff-filter=d "$revision" -- 'server/*.ts')
    else
      what='of the pure rooms'
      files=$(git ls-files 'server/*.ts')
    fi
    ;;
  -*)
    echo "There is no option $1. See the top of tests/mutation.sh." >&2
    exit 2
    ;;
  *)
    for file; do [ -f "$file" ] || { echo "There is no file $file. Name files from the top of the repository." >&2; exit 2; }; done
    what='of the pure rooms, as named'
    files=$(printf '%s\n' "$@")
    reporters+=,clear-text
    mostLines=Infinity
    ;;
esac
mapfile -t chosen < <(grep -E "$pureRooms" <<<"$files")
[ ${#chosen[@]} -gt 0 ] || { echo "Mutation score: there are no files $what."; exit 0; }

# Nothing else needs these 260 packages. They use the test runner of the project itself.
npm ci --prefix tests/mutation --legacy-peer-deps --no-audit --no-fund --loglevel=error >&2

sample=$(node tests/mutation/sample.js "$mostLines" "$(node --print 'require("./package.json").version')" "${chosen[@]}")
[ -n "$sample" ] || { echo "Mutation score: there is no function in the files $what."; exit 0; }
mapfile -t functions <<<"$sample"
echo "Making mistakes on purpose in ${#functions[@]} functions of $(cut -d: -f1 <<<"$sample" | sort -u | wc -l) files (of ${#chosen[@]} $what)…"
tests/mutation/node_modules/.bin/stryker run tests/mutation/stryker.json --logLevel warn --reporters "$reporters" --mutate "$(IFS=,; echo "${functions[*]}")"
node --input-type=module - .build/mutation/report.json <<'SCRIPT'
import { readFileSync } from 'node:fs';
const { files } = JSON.parse(readFileSync(process.argv[2], 'utf8'));
const rows = Object.entries(files).map(([file, { mutants }]) => {
  const count = (...states) => mutants.filter(({ status }) => states.includes(status)).length;
  return {
    file,
    noticed: count('Killed', 'Timeout'),
    tooLong: count('Timeout'),
    unnoticed: count('Survived'),
    notRun: count('NoCoverage'),
  };
});
const total = (row) => row.noticed + row.unnoticed + row.notRun;
const score = (row) => (100 * row.noticed) / total(row);
const sum = (key) => rows.reduce((all, row) => all + row[key], 0);
const all = { noticed: sum('noticed'), tooLong: sum('tooLong'), unnoticed: sum('unnoticed'), notRun: sum('notRun') };
if (total(all) === 0) {
  console.log('Mutation score: there is nothing in these files to make a mistake in.');
  process.exit();
}
console.log(`\nMutation score: ${score(all).toFixed(1)} %. The tests noticed ${all.noticed} of ${total(all)} mistakes.`);
if (all.tooLong > 0)
  console.log(`${all.tooLong} of them only because a test took too long, which on a busy machine proves nothing.`);
console.log('Weakest files:');
console.log('  score  unnoticed  not run by a test  file');
const weakest = rows.filter((row) => total(row) > row.noticed).sort((a, b) => score(a) - score(b)).slice(0, 10);
for (const row of weakest)
  console.log(`${score(row).toFixed(1).padStart(5)} %  ${String(row.unnoticed).padStart(9)}  ${String(row.notRun).padStart(17)}  ${row.file}`);
console.log('Each mistake, with the tests that ran it: .build/mutation/report.html');
SCRIPT
