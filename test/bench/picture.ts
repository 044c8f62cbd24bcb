import type { BenchOptions } from './bench.ts';
import { benchDots } from './picture-dots.ts';
import { benchSpeed } from './picture-speed.ts';

export const benchPicture = async (say: (line: string) => void, options: BenchOptions): Promise<void> => {
  benchDots(say, options);
  await benchSpeed(say, options);
};
