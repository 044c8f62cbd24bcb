import type { Trial } from './bench.ts';
import { buttonTrial } from './button.ts';
import { lampTrial } from './lamp.ts';
import { motorTrial } from './motor.ts';
import { printerTrial } from './printer.ts';
import { shutterTrial } from './shutter.ts';
import { supplyTrial } from './supply.ts';
import { webcamTrial } from './webcam.ts';

/** In the order of a first bring-up: what can't hurt first, what heats last. */
export const trials: readonly Trial[] = [
  lampTrial,
  buttonTrial,
  supplyTrial,
  webcamTrial,
  motorTrial,
  shutterTrial,
  printerTrial,
];
