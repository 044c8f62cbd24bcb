/** What the lens looks at. */
export interface Scene {
  /**
   * Luminance in linear light, row by row: 1 is white paper in full light. `into` has `widthPx * heightPx` places.
   * The same moment always looks the same.
   */
  look(atUs: number, widthPx: number, heightPx: number, into: Float32Array): void;
  /** Mean luminance, cheaply: what automatic exposure sees. */
  brightness(atUs: number): number;
  /** Noise beside the usual, 1 is the usual. */
  noise: number;
  /** Whether exposure follows the light (a photo is exposed already). */
  metered: boolean;
}
