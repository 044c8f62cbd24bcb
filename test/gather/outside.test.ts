import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import { cleanWear, takeScan } from '../../sim/scanner/scanner.ts';
import { readImprintText } from '../../src/print/imprint.ts';
import { diffuse, stripOf, toneImage } from './fixture.ts';

describe.skipIf(!existsSync('/usr/bin/zbarimg'))('a whole strip (needs zbarimg)', () => {
  it('has codes that another program reads among the pictures', () => {
    const draw = chance(12);
    const shots = [301, 999_999];
    const strip = stripOf(shots.map(shot => ({ shot, body: diffuse(toneImage(384, 200, draw), 384, 200) })));
    const { image } = takeScan(
      [{ dots: strip.dots, xMm: 32, yMm: 44, turnDegrees: 0.7 }],
      { widthMm: 64, heightMm: 88, dpi: 300 },
      cleanWear,
      draw,
    );
    const file = join(mkdtempSync(join(tmpdir(), 'strip-')), 'strip.pgm');
    writeFileSync(file, Buffer.concat([Buffer.from(`P5 ${image.widthPx} ${image.heightPx} 255\n`), image.data]));
    const read = execFileSync('zbarimg', ['-q', '--raw', '-Sdisable', '-Scode128.enable', file], {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'ignore'],
    });
    const names = read.trim().split('\n').map(readImprintText);
    expect(names.map(name => name?.shot).sort()).toEqual([...shots].sort());
  });
});
