/** The sums of the trade, one by one. Units stand in the names. */

/** I = N·V/R: current with `dots` elements hot, ampere. */
export const peakAmps = (dots: number, volts: number, elementOhm: number): number => (dots * volts) / elementOhm;

/** ΔV = I·R. */
export const sagVolts = (amps: number, ohm: number): number => amps * ohm;

/** Cells in series add up, rows in parallel divide; the wiring comes on top. Ohm. */
export const packOhm = (series: number, parallel: number, cellOhm: number, wiringOhm: number): number =>
  (series * cellOhm) / parallel + wiringOhm;

/** Share of the head's energy that is missing when the voltage sags by `sag` volts: it goes by the square. */
export const energyMissing = (volts: number, sag: number): number => 1 - ((volts - sag) / volts) ** 2;

/** t = E·R/V²: heating time of one dot, ms, for `energyMj` millijoule. */
export const pulseMs = (energyMj: number, elementOhm: number, volts: number): number =>
  (energyMj * elementOhm) / volts ** 2;

/** E = V²·t/R, millijoule a dot. */
export const dotMj = (volts: number, heatingUs: number, elementOhm: number): number =>
  (volts ** 2 * heatingUs) / elementOhm / 1000;

/** The same energy at another voltage: t ∝ 1/V². */
export const pulseAtVolts = (pulse: number, fromVolts: number, toVolts: number): number =>
  pulse * (fromVolts / toVolts) ** 2;

/** E = E25 + (25 − T)·Tc, millijoule. */
export const energyAtC = (mjAt25: number, mjPerC: number, headC: number): number => mjAt25 + (25 - headC) * mjPerC;

/** Hours that a battery lasts at a steady load behind a converter. */
export const batteryHours = (capacityWh: number, loadWatts: number, efficiency: number): number =>
  (capacityWh * efficiency) / loadWatts;

export const tauMs = (henryMilli: number, ohm: number): number => henryMilli / ohm;

/** Time until the coil's current reaches `amps`, ms; Infinity where it never does. */
export const riseMs = (volts: number, ohm: number, mh: number, amps: number): number => {
  const share = (amps * ohm) / volts;
  return share >= 1 ? Number.POSITIVE_INFINITY : -tauMs(mh, ohm) * Math.log(1 - share);
};

/** Current after `ms` on, ampere. */
export const ampsAfterMs = (volts: number, ohm: number, mh: number, ms: number): number =>
  (volts / ohm) * (1 - Math.exp(-ms / tauMs(mh, ohm)));

/** t = τ·ln[(I + V/R)/(Ih + V/R)]: from `fromAmps` down to `holdAmps` against a back voltage, ms. */
export const releaseMs = (ohm: number, mh: number, fromAmps: number, holdAmps: number, backVolts: number): number =>
  fromAmps <= holdAmps ? 0 : tauMs(mh, ohm) * Math.log((fromAmps + backVolts / ohm) / (holdAmps + backVolts / ohm));

/** R = R₀(1 + 0.00393·ΔT), copper. */
export const hotOhm = (ohm: number, riseK: number): number => ohm * (1 + 0.00393 * riseK);

/** ½·L·I², millijoule. */
export const coilMj = (mh: number, amps: number): number => 0.5 * mh * amps ** 2;

export const bytesPerS = (baud: number): number => baud / 10;

/** Paper speed that a serial line can feed, mm/s; `overhead` is the share of command bytes. */
export const lineMmPerS = (baud: number, rowBytes: number, dotsPerMm: number, overhead: number): number =>
  bytesPerS(baud) / (rowBytes * (1 + overhead)) / dotsPerMm;

/** The least baud that feeds paper at `mmPerS`. */
export const leastBaud = (mmPerS: number, rowBytes: number, dotsPerMm: number, overhead: number): number =>
  mmPerS * dotsPerMm * rowBytes * (1 + overhead) * 10;

/** Worst black line of a panel printer, ms: ⌈dots/(8(n1+1))⌉·(n2+n3)·10 µs. */
export const blackLineMs = (dots: number, n1: number, n2: number, n3: number): number =>
  (Math.ceil(dots / (8 * (n1 + 1))) * (n2 + n3)) / 100;

/** Time that `bytes` of text hold a console for, s. */
export const consoleS = (bytes: number, baud: number): number => bytes / bytesPerS(baud);
