import type { Album } from './album.ts';
import type { Button } from './button.ts';
import type { Clock } from './clock.ts';
import type { Darkroom } from './darkroom.ts';
import type { Lamp } from './lamp.ts';
import type { Motor } from './motor.ts';
import type { Printer } from './printer.ts';
import type { Shutter } from './shutter.ts';
import type { Supply } from './supply.ts';
import type { Webcam } from './webcam.ts';

/** Everything that a camera is made of. Real and virtual rigs differ in nothing that the machine could see. */
export interface Rig {
  clock: Clock;
  button: Button;
  shutter: Shutter;
  webcam: Webcam;
  darkroom: Darkroom;
  printer: Printer;
  lamp: Lamp;
  motor: Motor;
  album: Album;
  supply: Supply;
}
