import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const BUILT = new URL('../../.build/server/store/index.js', import.meta.url);

/** Address of the built store, for child processes and worker threads: Node 20 runs no TypeScript there. */
export function builtStore(): URL {
  if (!existsSync(fileURLToPath(BUILT))) throw new Error('The store is not built. Run: npm run build');
  return BUILT;
}
