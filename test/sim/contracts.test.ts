import { createVirtualButton } from '../../sim/button.ts';
import { createCard } from '../../sim/card.ts';
import { createVirtualClock, type VirtualClock } from '../../sim/clock.ts';
import { createVirtualLamp } from '../../sim/lamp.ts';
import { createVirtualMotor } from '../../sim/motor.ts';
import { mechanismOf } from '../../sim/printer/mechanism.ts';
import { createVirtualPrinter } from '../../sim/printer/printer.ts';
import { chance } from '../../sim/random.ts';
import { createVirtualShutter } from '../../sim/shutter.ts';
import { createVirtualSupply } from '../../sim/supply.ts';
import { createTraces, type TraceSample } from '../../sim/traces.ts';
import { createVirtualWebcam } from '../../sim/webcam.ts';
import { defaultProfile } from '../../src/config/profile.ts';
import { buttonContract } from '../contracts/button.ts';
import { lampContract } from '../contracts/lamp.ts';
import type { Passing } from '../contracts/make.ts';
import { motorContract, motorLimits } from '../contracts/motor.ts';
import { printerContract } from '../contracts/printer.ts';
import { shutterContract, shutterLimits } from '../contracts/shutter.ts';
import { webcamContract } from '../contracts/webcam.ts';
import { smallWebcam } from './webcam-figures.ts';

const passing = (clock: VirtualClock): Passing => ({
  async pass(ms) {
    clock.runUntil(clock.nowUs() + ms * 1000);
  },
  nowUs: clock.nowUs,
  graceUs: () => 0,
  done() {},
});
const setUp = () => {
  const clock = createVirtualClock();
  return { clock, traces: createTraces(clock.nowUs), time: passing(clock) };
};
const changesOf = (samples: readonly TraceSample[]) => samples.map(({ atUs, value }) => ({ atUs, on: value === 1 }));

buttonContract('virtual', () => {
  const { clock, traces, time } = setUp();
  const { button, control } = createVirtualButton(clock, traces, chance(1));
  return { ...time, button, contact: control.contact };
});

shutterContract('virtual', () => {
  const { clock, traces, time } = setUp();
  const supply = createVirtualSupply(clock, traces, { openVolts: 12, internalOhm: 0, floorVolts: 6, measured: true });
  const coil = { coilOhm: 12, coilMh: 20, bladesClearMs: 20, nominalVolts: 12, ...shutterLimits };
  return {
    ...time,
    shutter: createVirtualShutter(clock, traces, coil, supply),
    async pulses() {
      const changes = changesOf(traces.of('coil'));
      return changes
        .map(({ atUs, on }, i) => ({ on, fromUs: atUs, toUs: changes[i + 1]?.atUs ?? null }))
        .filter(({ on }) => on);
    },
  };
});

lampContract('virtual', () => {
  const { clock, traces, time } = setUp();
  return {
    ...time,
    lamp: createVirtualLamp(clock, traces),
    changes: async () => changesOf(traces.of('lamp')).map(({ atUs, on }) => ({ atUs, lit: on })),
  };
});

motorContract('virtual', () => {
  const { clock, traces, time } = setUp();
  const side = (name: 'in' | 'out') => changesOf(traces.of(`motor-${name}`)).map(change => ({ ...change, side: name }));
  return {
    ...time,
    motor: createVirtualMotor(clock, traces, motorLimits),
    // At one moment, what is let go comes before what is driven.
    changes: async () => [...side('in'), ...side('out')].sort((a, b) => a.atUs - b.atUs || Number(a.on) - Number(b.on)),
  };
});

for (const format of ['YUYV', 'GREY', 'MJPEG'] as const) {
  webcamContract(`virtual, ${format}`, () => {
    const { clock, traces, time } = setUp();
    const webcam = createVirtualWebcam(clock, traces, { ...smallWebcam, format }, createCard(), () => 0);
    const { control } = webcam;
    return {
      ...time,
      webcam,
      framesPerSecond: 30,
      unplug: control.unplug,
      replug: control.replug,
      freeze: control.freeze,
      spoil: spoilt => spoilt && control.drop(6),
    };
  });
}

for (const kind of ['serial', 'usb'] as const) {
  printerContract(`virtual, ${kind}`, () => {
    const { clock, traces, time } = setUp();
    const received: number[] = [];
    const printer = createVirtualPrinter({
      clock,
      traces,
      mechanism: mechanismOf({ ...defaultProfile(), bufferBytes: 100_000 }),
      line: { kind, baud: 115_200, flow: 'none' },
      chance: chance(1),
      tap: bytes => received.push(...bytes),
    });
    return {
      ...time,
      printer: printer.port,
      received: () => Uint8Array.from(received),
      answer: bytes => printer.control.says([...bytes]),
      unplug: printer.control.unplug,
      replug: printer.control.replug,
      slow: kind === 'serial',
    };
  });
}
