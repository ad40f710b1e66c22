import manifest from '../package.json' with { type: 'json' };

/** Said by `--version` and in the OpenAPI document. It is raised in package.json alone. */
export const VERSION: string = manifest.version;
