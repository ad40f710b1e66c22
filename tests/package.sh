#!/usr/bin/env bash
# What a user installs: packs, installs the package into an empty folder without development dependencies, runs it with
# the simulated line, and asks for the page and the state. `bash tests/package.sh 22 24` does so under those versions of
# Node: the npm registry carries Node and its headers as a package.
set -euo pipefail
cd "$(dirname "$0")/.."

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

echo "Packing…"
npm pack --silent --pack-destination "$work" >/dev/null
package=$(echo "$work"/*.tgz)
version=$(node --print 'require("./package.json").version')
npmProgram=$(realpath "$(command -v npm)")

# Not every registry answers it; one that does must know of no serious fault.
if ! audit=$(npm audit --audit-level high 2>&1); then
  grep -q 'audit endpoint returned an error' <<<"$audit" || { echo "$audit" >&2; exit 1; }
  echo "The registry answers no audit: look for known faults of the packages elsewhere."
fi

# Ends with 0 once the service whose output is in the file has shown its page and received readings.
ask() {
  node --input-type=module - "$1" <<'SCRIPT'
import { readFileSync } from 'node:fs';
const giveUpMs = Date.now() + 60_000;
async function until(what, look) {
  while (Date.now() < giveUpMs) {
    const found = await look();
    if (found) return found;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error(`Not within a minute: ${what}`);
}
const address = await until('an address', () => /Open (http:\S+)/.exec(readFileSync(process.argv[2], 'utf8'))?.[1]);
const page = await (await fetch(address)).text();
const script = /<script[^>]* src="([^"]+)"/.exec(page)?.[1];
const { ok } = await fetch(new URL(script, address));
if (!ok) throw new Error(`The page's script ${script} is missing.`);
await until('a reading', async () => (await (await fetch(`${address}/api/state`)).json()).link.phase === 'open');
SCRIPT
}

# $1: the folder of a Node, as it is unpacked; $2: a name for it
tryWith() (
  prefix="$work/prefix-$2" data="$work/data-$2" out="$work/out-$2"
  service=
  trap '[ -z "$service" ] || kill "$service"' EXIT
  export PATH="$1/bin:$PATH"
  # What cannot be fetched ready-made is compiled, with the headers of the Node that will run it.
  [ ! -d "$1/include/node" ] || export npm_config_nodedir="$1"
  echo "Installing under Node $(node --version)…"
  # Outside this folder, whose .npmrc is no user's.
  (cd "$work" && node "$npmProgram" install --global --silent --prefix "$prefix" "$package")
  node - "$prefix/lib/node_modules/strandward/.build/sbom.cdx.json" <<'SCRIPT'
const { bomFormat, components } = JSON.parse(require('node:fs').readFileSync(process.argv[2], 'utf8'));
const named = new Set(components.map(({ name }) => name));
if (bomFormat !== 'CycloneDX' || !['better-sqlite3', 'fastify', 'preact'].every((name) => named.has(name)))
  throw new Error('The bill of materials lacks what is bundled.');
SCRIPT
  strandward="$prefix/bin/strandward"
  [ "$("$strandward" --version)" = "$version" ] || { echo "--version does not say $version." >&2; exit 1; }
  "$strandward" --help | grep -q 'strandward \[COMMAND\]'
  [ "$("$strandward" simulate --pace max --duration 1 | grep -c ' d=')" = 50 ]
  "$strandward" --port 0 --data "$data" --source 'simulator:evening?pace=20' >"$out" 2>&1 &
  service=$!
  ask "$out" || { cat "$out" >&2; exit 1; }
  kill "$service"
  wait "$service"
  service=
  "$strandward" backup --data "$data" | grep -q '^Made a backup'
  echo "Runs under Node $(node --version)."
)

[ $# -gt 0 ] || tryWith "$(realpath "$(dirname "$(node --print process.execPath)")/..")" own
for major in "$@"; do
  npm install --silent --prefix "$work/node-$major" "node@$major"
  tryWith "$(realpath "$(find "$work/node-$major" -path '*/node-*/bin/node' | head -1 | xargs dirname)/..")" "$major"
done
