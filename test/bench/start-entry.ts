// The service on parts that are there at once: what is left is the program's own start.
import { createAlbum } from '../../src/album/album.ts';
import { callCommand, execute } from '../../src/cli/execute.ts';
import { runCommand } from '../../src/cli/run.ts';
import { createDisk } from '../../src/linux/disk.ts';
import type { BoardRig, BoardRigOptions } from '../../src/linux/rig.ts';
import type { Frame } from '../../src/parts/webcam.ts';

const nothing = () => {};
const framesPerSecond = 30;
const widthPx = 1280;
const heightPx = 720;

const instantRig = ({ config, clock, inlet }: BoardRigOptions): BoardRig => {
  const watchers = new Set<(frame: Frame) => void>();
  let sequence = 0;
  return {
    rig: {
      clock,
      button: { listen: () => nothing },
      shutter: { energise: nothing, release: nothing },
      lamp: { show: nothing },
      motor: { drive: nothing },
      webcam: {
        open(heard) {
          setImmediate(() => heard({ kind: 'ready' }));
          // Frames come whether or not they are watched, as from a webcam.
          const timer = setInterval(() => {
            const endUs = clock.nowUs();
            const frame: Frame = {
              sequence: sequence++,
              exposureStartUs: endUs - 30_000,
              exposureEndUs: endUs,
              format: 'GREY',
              widthPx,
              heightPx,
              strideBytes: widthPx,
              range: 'full',
              data: new Uint8Array(0),
            };
            for (const watcher of watchers) watcher(frame);
          }, 1000 / framesPerSecond);
          return () => clearInterval(timer);
        },
        watch(heard) {
          watchers.add(heard);
          return () => void watchers.delete(heard);
        },
      },
      darkroom: { develop: () => nothing },
      printer: { open: () => nothing, write: nothing, discard: nothing },
      album: createAlbum({
        disk: createDisk(config.album.folder, deliver => inlet.take('disk', {}, deliver)),
        clock,
        config,
      }),
      supply: { listen: () => nothing },
    },
    warmUp: nothing,
    close: nothing,
  };
};

void execute(io => callCommand(runCommand(instantRig), process.argv.slice(3), io)).then(code => {
  process.exitCode = code;
});
