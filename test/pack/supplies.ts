// What the commands of an installed package are given to work on: an album, a scanned wedge, a photo. Everything invented.
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import jpeg from 'jpeg-js';
import { createDiskModel, type DiskModel } from '../../sim/disk.ts';
import { writePng } from '../../src/picture/png.ts';
import { drawWedge } from '../../src/workshop/wedge/draw.ts';
import { startLife } from '../album/fixture.ts';
import { scanOf } from '../workshop/wedge/scanner.ts';

const [folder] = process.argv.slice(2);

const unload = (disk: DiskModel, path: string) => {
  mkdirSync(join(folder, 'album', path), { recursive: true });
  for (const name of disk.list(path)) {
    const at = path === '' ? name : `${path}/${name}`;
    if (disk.isFolder(at)) unload(disk, at);
    else writeFileSync(join(folder, 'album', at), disk.read(at));
  }
};
const disk = createDiskModel();
const life = startLife(disk);
life.settle();
life.keep(1);
life.keep(2);
life.settle(9000);
unload(disk, '');

const scan = scanOf(drawWedge(384), { turnDegrees: 4, pxPerDot: 2 });
writeFileSync(
  join(folder, 'scan.png'),
  writePng({ widthPx: scan.widthPx, heightPx: scan.heightPx, bits: 8, data: scan.data }),
);

const [width, height] = [320, 240];
const data = Buffer.alloc(width * height * 4, 255);
for (let i = 0; i < width * height; i++) data.fill(Math.round((255 * (i % width)) / width), i * 4, i * 4 + 3);
writeFileSync(join(folder, 'photo.jpg'), jpeg.encode({ width, height, data }, 90).data);
