import fc from 'fast-check';
import { IS_LONG_CHECK } from './long-check.ts';

/**
 * Property tests try the same cases in every ordinary run, so that a change is blamed only for what it broke. The long check
 * before a release tries others each time. A case that fails there becomes an example of its test.
 */
if (!IS_LONG_CHECK) fc.configureGlobal({ seed: 20_000 });
