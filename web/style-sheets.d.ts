/** Vite carries style sheets that a module names. */
declare module '*.css';
