import { type FaultEntry, type FaultName, faults, usualFaultMs } from './faults.ts';
import type { VirtualRig } from './rig.ts';
import { createScene } from './scene.ts';
import type { Script, Step } from './script.ts';

/** A fault while it lasted, µs; `toUs` is Infinity while it lasts. */
export interface FaultSpan {
  fault: FaultName;
  fromUs: number;
  toUs: number;
}

export interface Play {
  /** Every fault so far. */
  readonly spans: readonly FaultSpan[];
  /** Puts everything right that is still wrong, power included. */
  healAll(): void;
}

export interface PlayOptions {
  /** The program is started anew after each boot. */
  onBoot(): void;
  /** Whether the script's scenes are shown: photos take their place. */
  scenes: boolean;
}

/** Lays the steps of a script on the rig's clock, counted from now. Faults that overlap count as one. */
export const play = (rig: VirtualRig, script: Script, { onBoot, scenes }: PlayOptions): Play => {
  const { clock, control, traces } = rig;
  const spans: FaultSpan[] = [];
  const active = new Map<FaultName, FaultSpan>();

  const heal = (fault: FaultName) => {
    const span = active.get(fault);
    if (!span) return;
    active.delete(fault);
    span.toUs = clock.nowUs();
    const { heal: putRight } = faults[fault] as (typeof faults)['paper-out'];
    putRight?.(rig);
    traces.record('fault', `${fault} over`);
    if (!rig.life.alive) return;
    if (fault === 'power-cut' || fault === 'brown-out') onBoot();
  };
  const powerless = () => active.has('power-cut') || active.has('brown-out');
  const inflict = (fault: FaultName, forMs: number | undefined) => {
    if (active.has(fault) || ((fault === 'power-cut' || fault === 'brown-out') && powerless())) return;
    const entry = faults[fault];
    const span: FaultSpan = { fault, fromUs: clock.nowUs(), toUs: Number.POSITIVE_INFINITY };
    spans.push(span);
    traces.record('fault', fault);
    entry.inflict(rig, forMs ?? usualFaultMs);
    if (!('heal' in entry)) {
      span.toUs = clock.nowUs() + (forMs ?? usualFaultMs) * 1000;
      return;
    }
    active.set(fault, span);
    if (forMs !== undefined) clock.after(forMs * 1000, () => active.get(fault) === span && heal(fault));
  };

  const newRoll = (takesMs: number, paperMm: number) => {
    inflict('lid-open', takesMs);
    clock.after(takesMs * 500, () => control.printer.loadRoll(paperMm));
  };
  const act = (step: Step) => {
    switch (step.do) {
      case 'press':
        return control.press(step.holdMs, step.bounce);
      case 'double':
        return control.button.mash(2, step.gapMs, Math.min(90, step.gapMs / 2));
      case 'mash':
        return control.button.mash(step.times, step.everyMs, step.holdMs);
      case 'storm':
        return control.button.storm(step.forMs, step.gapUs);
      case 'fault':
        return inflict(step.fault, step.forS === undefined ? undefined : step.forS * 1000);
      case 'heal':
        return heal(step.fault);
      case 'cut': {
        const { life } = rig;
        return life.endAtStep(step.deeds, () => {
          inflict(step.printerToo ? 'power-cut' : 'brown-out', step.offS * 1000);
        });
      }
      case 'new-roll':
        return newRoll(step.takesS * 1000, step.paperMm);
      case 'scene':
        if (scenes) control.webcam.scene(createScene(step.scene, script.seed));
        return;
    }
  };
  for (const step of script.steps) clock.after(step.atS * 1e6, () => act(step));

  return {
    spans,
    healAll() {
      rig.life.endAtStep(Number.POSITIVE_INFINITY, () => {});
      for (const { disarm } of Object.values<FaultEntry>(faults)) disarm?.(rig);
      // Power last: whatever boots finds everything in order.
      const rest = [...active.keys()].sort((a, b) => Number(a.endsWith('cut')) - Number(b.endsWith('cut')));
      for (const fault of rest) heal(fault);
    },
  };
};
