import { describe, expect, it } from 'vitest';
import { createCameraMachine } from '../../src/machine/camera-machine.ts';
import { atomicStates, createStillMachine, regions, stillWorld } from './model.ts';
import { pathsTo } from './paths.ts';
import { replay } from './replay.ts';

const machine = createStillMachine();

describe.each(regions)('paths through %s', region => {
  const paths = pathsTo(machine, region);

  it('lead to every state', () => {
    const reached = new Set(paths.map(({ target }) => target));
    const unreached = atomicStates(machine, region)
      .map(({ name }) => name)
      .filter(name => !reached.has(name));
    // A head that needs no rest never rests (see below); choosing hands on at once.
    expect(unreached).toEqual(region === 'output' ? ['choosing', 'resting'] : []);
  });

  it('go on the parts as they go in the graph', () => {
    for (const path of paths) replay(path);
  });
});

describe('a head that must rest', () => {
  it('rests before a picture, and looks again afterwards', () => {
    const world = stillWorld();
    world.engine.restUs = () => 4_000_000;
    const paths = pathsTo(createCameraMachine(world), 'output').filter(({ target }) => target === 'resting');
    expect(paths.length).toBeGreaterThan(0);
    for (const path of paths) replay(path, { restUs: () => 4_000_000 });
  });
});
