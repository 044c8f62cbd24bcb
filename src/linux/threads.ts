/** Programs of threads lie beside the bundle. */
export const threadFile = (name: 'supervisor' | 'darkroom'): URL => new URL(`./${name}-thread.mjs`, import.meta.url);
