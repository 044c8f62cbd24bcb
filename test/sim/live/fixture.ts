import { createLiveDesk, type LiveDesk } from '../../../sim/live/desk.ts';
import { defaultProfile } from '../../../src/config/profile.ts';
import { configSchema } from '../../../src/config/schema.ts';

/** A desk with small frames and a quick look, one second after its start. */
export const quickDesk = (): LiveDesk => {
  const config = configSchema.parse({
    picture: { look: 'plain', aspect: 1.5 },
    webcam: { format: 'GREY', widthPx: 160, heightPx: 120 },
  });
  const desk = createLiveDesk({
    config,
    profile: defaultProfile(),
    imprint: null,
    seed: 1,
    scene: 'party',
    photos: [],
  });
  desk.advance(1_500_000);
  return desk;
};

/** Lets time go on in steps until something holds; fails after a minute of it. */
export const until = (desk: LiveDesk, holds: () => boolean): void => {
  for (let i = 0; i < 2400 && !holds(); i++) desk.advance(25_000);
  if (!holds()) throw new Error(`it never came to that: ${JSON.stringify(desk.standing())}`);
};
