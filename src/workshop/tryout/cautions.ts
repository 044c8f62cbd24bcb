/** Usual cautions, worded once: they stand where the hand is. None of them replaces local rules or a qualified person. */
export const cautions = {
  general: 'Local electrical rules and qualified people come first; when in doubt, stop and ask one.',
  flash:
    'Old bodies with a built-in flash hold a capacitor at hundreds of volts, also long after they were used: leave it to someone qualified before you reach in.',
  coil: 'The coil gets hot when it stays on, and kicks back when it lets go: a flyback diode (or diode and zener) must sit across it, and a pull-down on the gate.',
  cells:
    'Lithium cells burn when shorted or overcharged: a protected pack, a fuse near it, and the charger that is made for it.',
  adapter: 'A mains adapter stays in its own closed, approved housing; nothing at mains voltage goes into the body.',
  head: 'The thermal head and its motor get hot enough to burn; the tear edge is sharp. Fingers stay out while it prints.',
  motor: 'Gears pinch, and a blocked motor heats: keep fingers and loose cables away, and stop when it strains.',
  paper:
    'Thermal paper: prefer paper without phenols (bisphenol A may not reach 0.02 % by weight in the EU since 2 January 2020: Regulation (EU) 2016/2235); wash your hands, and no sanitiser before you touch it.',
} as const;
