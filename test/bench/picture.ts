import type { BenchOptions } from './bench.ts';
import { benchDots } from './picture-dots.ts';
import { benchSpeed } from './picture-speed.ts';

export const benchPicture = (say: (line: string) => void, options: BenchOptions): void => {
  benchDots(say, options);
  benchSpeed(say, options);
};
