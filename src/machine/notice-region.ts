import type { Kit } from './kit.ts';

/** What the person should see for a moment only. That a picture could not be kept outweighs a refused press. */
export const noticeRegion = (kit: Kit) =>
  kit.createStateConfig({
    initial: 'quiet',
    on: { 'note.refused': '.refused', 'note.missed': '.missed', 'note.unkept': '.unkept' },
    states: {
      quiet: {},
      refused: { after: { refusedShown: 'quiet' } },
      missed: { after: { missedShown: 'quiet' }, on: { 'note.refused': {} } },
      unkept: { after: { unkeptShown: 'quiet' }, on: { 'note.refused': {}, 'note.missed': {} } },
    },
  });
