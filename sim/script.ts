import * as z from 'zod/mini';
import { profileSchema } from '../src/config/profile.ts';
import { configSchema } from '../src/config/schema.ts';
import { choice, flag, number, text, whole } from '../src/config/setting.ts';
import { faultNames } from './faults.ts';
import { sceneNames } from './scene.ts';

const atS = z
  .number()
  .check(z.minimum(0), z.maximum(100_000))
  .register(z.globalRegistry, { description: 'When, seconds since power on [s]' });
const faultName = z.enum(faultNames).register(z.globalRegistry, { description: 'What goes wrong' });
const sceneName = z.enum(sceneNames).register(z.globalRegistry, { description: 'What the lens looks at' });

/** One thing that happens at a party. */
export const stepSchema = z.discriminatedUnion('do', [
  z.strictObject({
    do: z.literal('press'),
    atS,
    holdMs: number(120, 1, 60_000, 'How long the finger stays', 'ms'),
    bounce: flag(true, 'Whether the contact bounces'),
  }),
  z.strictObject({
    do: z.literal('double'),
    atS,
    gapMs: number(180, 20, 1500, 'From the first finger down to the second', 'ms'),
  }),
  z.strictObject({
    do: z.literal('mash'),
    atS,
    times: whole(8, 1, 10_000, 'How often'),
    everyMs: number(160, 10, 60_000, 'From one to the next', 'ms'),
    holdMs: number(70, 1, 60_000, 'How long the finger stays', 'ms'),
  }),
  z.strictObject({
    do: z.literal('storm'),
    atS,
    forMs: number(30, 1, 10_000, 'How long the loose contact chatters', 'ms'),
    gapUs: number(400, 10, 100_000, 'Mean time from edge to edge', 'µs'),
  }),
  z.strictObject({
    do: z.literal('fault'),
    atS,
    fault: faultName,
    forS: z
      .optional(z.number().check(z.minimum(0.001), z.maximum(100_000)))
      .register(z.globalRegistry, { description: 'Healed after this time; left out: until it is healed [s]' }),
  }),
  z.strictObject({ do: z.literal('heal'), atS, fault: faultName }),
  z.strictObject({
    do: z.literal('cut'),
    atS,
    deeds: whole(1, 1, 100_000, 'Power goes at this thing that the program does to a part or the disk from then on'),
    offS: number(2, 0.1, 3600, 'How long it stays away', 's'),
    printerToo: flag(true, 'Whether the printer loses its power too'),
  }),
  z.strictObject({
    do: z.literal('new-roll'),
    atS,
    takesS: number(8, 0.5, 600, 'Lid open while the roll is changed', 's'),
    paperMm: number(15_000, 10, 200_000, 'Paper on the new roll', 'mm'),
  }),
  z.strictObject({ do: z.literal('scene'), atS, scene: sceneName }),
]);
export type Step = z.infer<typeof stepSchema>;

export const scriptSchema = z.strictObject({
  $schema: z.optional(z.string()),
  title: text('A party', 'What this party shows', 120),
  seed: whole(1, 0, 4_294_967_295, 'Seed of everything that is left to chance'),
  scene: choice(sceneNames, 'party', 'What the lens looks at, unless photos are given'),
  config: z.optional(configSchema),
  /** The printer of this party, instead of the configuration's profile. */
  profile: z.optional(profileSchema),
  paperMm: number(15_000, 10, 200_000, 'Paper on the roll at the beginning', 'mm'),
  roomC: number(24, -10, 50, 'Temperature of the room', '°C'),
  endS: z
    .number()
    .check(z.minimum(0.1), z.maximum(100_000))
    .register(z.globalRegistry, { description: 'When the party is over; what is queued is still printed [s]' }),
  steps: z._default(z.array(stepSchema).check(z.maxLength(100_000)), []).register(z.globalRegistry, {
    description: 'What happens, in any order',
  }),
});
export type Script = z.infer<typeof scriptSchema>;

/** When the last step is over, with what lasts longer than its beginning, s. */
export const stepsEndS = (steps: readonly Step[]): number =>
  Math.max(
    0,
    ...steps.map(step => {
      if (step.do === 'fault') return step.atS + (step.forS ?? 0);
      return step.atS + (step.do === 'cut' ? step.offS : step.do === 'new-roll' ? step.takesS : 0);
    }),
  );
