import { readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { frameFileNames, readFrameFile } from '../album/frame-file.ts';
import { picturePath } from '../album/layout.ts';
import type { Caption, Dots } from '../parts/darkroom.ts';
import { Fault } from '../parts/fault.ts';
import type { Frame } from '../parts/webcam.ts';
import { createDeveloper } from '../picture/develop.ts';
import { resolveLook } from '../picture/looks.ts';
import type { RecordingHeader } from './recorder.ts';

const frameOf = (folder: string, shot: number): Frame | null => {
  for (const name of frameFileNames) {
    try {
      const read = readFrameFile(readFileSync(join(folder, picturePath(shot), name)));
      if (read.kind === 'read') return read.file.frame;
    } catch {
      // Under another name, or not kept.
    }
  }
  return null;
};

/** Develops pictures anew from the frames in an album's folder. Throws a `Fault` when there is no such folder. */
export const createDevelopAgain = (folder: string, { config, profile }: RecordingHeader) => {
  if (!statSync(join(folder, 'pictures'), { throwIfNoEntry: false })?.isDirectory())
    throw new Fault(
      'unreadable',
      `--album ${folder}: no album is there`,
      'give the folder in which journal and pictures are',
    );
  const developer = createDeveloper({
    picture: config.picture,
    look: resolveLook(config.picture),
    profile,
    cameraName: config.camera.name,
  });
  return (caption: Caption): Dots | null => {
    const frame = frameOf(folder, caption.shot);
    return frame && developer.develop(frame, caption);
  };
};
