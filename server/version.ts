import manifest from '../package.json' with { type: 'json' };

/** Shown by `--version` and in the OpenAPI document. Change it in package.json only. */
export const VERSION: string = manifest.version;
