import fc from 'fast-check';

/**
 * Property tests try the same cases in every ordinary run, so that a change is blamed only for what it broke. The long check
 * before a release tries others each time. A case that fails there becomes an example of its test.
 */
if (process.env.STRANDWARD_CHECK !== 'long') fc.configureGlobal({ seed: 20_000 });
