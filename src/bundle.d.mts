/** Bundles the loader, and the service that `entry` starts, into `folder`. */
export const buildService: (entry: string, folder: string) => Promise<void>;

/** Modules by name of output and entry, in shared pieces; packages stay outside. */
export const buildModules: (entryPoints: Record<string, string>, folder: string) => Promise<unknown>;
