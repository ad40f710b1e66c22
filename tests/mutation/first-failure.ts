import fc from 'fast-check';

/** A mistake made on purpose is noticed with the first case that fails: a simpler one would only take time. */
fc.configureGlobal({ ...fc.readConfigureGlobal(), endOnFailure: true });
