/** Vite bundles style sheets that a module imports. */
declare module '*.css';
