import type { Program } from '../../sim/party-run.ts';
import { createAlbum } from '../../src/album/album.ts';
import { frameFileNames, readFrameFile } from '../../src/album/frame-file.ts';
import { numbersIn, picturePath, pictures } from '../../src/album/layout.ts';
import { startCamera } from '../../src/camera.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { createImprint } from '../../src/print/imprint.ts';

/** Width of every party's paper, and the mark of its camera: the narrowest that a code fits on. */
const widthDots = 288;
const mark = 'A';

const imprint = createImprint({ widthDots, mark, encode: encodeCode128 });
const middleOfCode = (shot: number): string => {
  const { data, strideBytes, heightDots } = imprint.tail(shot);
  const row = heightDots >> 1;
  return Buffer.from(data.subarray(row * strideBytes, (row + 1) * strideBytes)).toString('latin1');
};

/** Which number a row of ink carries: looked up among the codes of the numbers that a party can reach. */
const createCodeReader = () => {
  const numbers = new Map<string, number>();
  return (dots: Uint8Array): number | null => {
    const known = () => numbers.get(Buffer.from(dots).toString('latin1'));
    if (known() === undefined && numbers.size < 1000) {
      for (let shot = numbers.size, to = shot + 200; shot < to; shot++) numbers.set(middleOfCode(shot), shot);
    }
    return known() ?? null;
  };
};

/** The whole camera as it runs on the board, with the album, on virtual parts. */
export const camera: Program = {
  createAlbum: (disk, clock, config) => createAlbum({ disk, clock, config }),
  start(rig, config, profile, log) {
    startCamera({
      rig,
      config,
      profile,
      log,
      imprint,
      onBroken(error) {
        throw error;
      },
    });
  },
  picturesOn: disk => {
    if (!disk.exists(pictures)) return [];
    const files = disk
      .list(pictures)
      .flatMap(shelf => numbersIn(disk.list(`${pictures}/${shelf}`)))
      .flatMap(shot => frameFileNames.map(name => `${picturePath(shot)}/${name}`))
      .filter(disk.exists);
    return files.flatMap(file => {
      const read = readFrameFile(disk.read(file));
      return read.kind === 'read' ? [read.file.frame] : [];
    });
  },
  codeIn: createCodeReader(),
};
