import type { Config } from './schema.ts';

/** The configuration without the parts that aren't named: their lines are left alone. */
export const onlyParts = (config: Config, parts: readonly string[]): Config => {
  const { button, shutter, motor, lamp } = config;
  const left = (...users: string[]) => !users.some(part => parts.includes(part));
  return {
    ...config,
    ...(left('button') ? { button: { ...button, line: null } } : {}),
    ...(left('shutter') ? { shutter: { ...shutter, line: null } } : {}),
    ...(left('motor') ? { motor: { ...motor, inLine: null, outLine: null } } : {}),
    // How late the webcam sees is measured by the lamp.
    ...(left('lamp', 'webcam') ? { lamp: { ...lamp, line: null, led: '' } } : {}),
  };
};
