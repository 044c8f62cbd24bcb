/** Bundles the loader, and the service that `entry` starts, into `folder`. */
export const buildService: (entry: string, folder: string) => Promise<void>;
