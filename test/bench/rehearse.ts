import { drawCalm } from '../../sim/party.ts';
import { rehearse } from '../../sim/rehearse.ts';
import { defaultProfile } from '../../src/config/profile.ts';
import { configSchema } from '../../src/config/schema.ts';

/** How much faster than life a calm evening is rehearsed, from the scene before the lens to the dots on paper. */
export const benchRehearse = (say: (line: string) => void, { smoke }: { smoke: boolean }): void => {
  const presses = smoke ? 3 : 1000;
  for (const look of ['plain', 'soft']) {
    const config = configSchema.parse({ picture: { look } });
    const startedUs = process.cpuUsage().user;
    const startedNs = process.hrtime.bigint();
    const script = drawCalm(1, presses);
    const { lifeS, log } = rehearse({
      script,
      config,
      profile: defaultProfile(),
      photos: [],
      imprint: null,
      sparse: true,
    });
    const tookS = Number(process.hrtime.bigint() - startedNs) / 1e9;
    const busyS = (process.cpuUsage().user - startedUs) / 1e6;
    const printed = log.filter(({ event }) => event === 'printed').length;
    say(
      `rehearse, look ${look}: ${printed} of ${presses} pictures, ${(lifeS / 3600).toFixed(2)} h of life in ${tookS.toFixed(1)} s: ${Math.round(lifeS / tookS)} × life (${Math.round(lifeS / busyS)} × by processor time)`,
    );
  }
};
