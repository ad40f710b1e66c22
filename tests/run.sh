#!/usr/bin/env bash
# The whole check of the project: types, lint, import rules, build, every test.
set -euo pipefail
cd "$(dirname "$0")/.."

bash tests/needs.sh
npm run --silent check
npm run --silent build
# Measuring coverage takes a third more processor time, so only the long check does.
coverage=()
[ "${STRANDWARD_CHECK:-}" != long ] || coverage=(--coverage)
npx vitest run --config tests/vitest.config.ts "${coverage[@]}" "$@"
