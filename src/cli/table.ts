import type { Command } from './command.ts';

/** Every command: its name, what the overview says of it, and where it lives. Only the one that is asked for is loaded. */
export interface TableRow {
  name: string;
  summary: string;
  load(): Promise<{ default: Command }>;
}

export const table: readonly TableRow[] = [
  { name: 'run', summary: 'the camera itself, as a service', load: () => import('./run.ts') },
  {
    name: 'rehearse',
    summary: 'the whole camera on virtual parts; leaves the strip to look at',
    load: () => import('./rehearse.ts'),
  },
  { name: 'replay', summary: 'recorded inputs through the same machine again', load: () => import('./replay.ts') },
  { name: 'listen', summary: 'a serial console made readable', load: () => import('./listen.ts') },
  { name: 'check', summary: 'the configuration, and what of it this board lacks', load: () => import('./check.ts') },
  { name: 'tryout', summary: 'one part at a time, with cautions', load: () => import('./tryout.ts') },
  { name: 'reckon', summary: 'supply, coil, paper, line and boot: the sums', load: () => import('./reckon.ts') },
  { name: 'proof', summary: 'what a photo will look like on paper', load: () => import('./proof.ts') },
  { name: 'wedge', summary: 'a step wedge, and the tone curve from it', load: () => import('./wedge.ts') },
  { name: 'album', summary: 'the pictures that were taken', load: () => import('./album.ts') },
  { name: 'gather', summary: 'scanned strips back to pictures', load: () => import('./gather.ts') },
  {
    name: 'enlist',
    summary: 'put service, user and rules on this board, or take them away',
    load: () => import('./enlist.ts'),
  },
];
