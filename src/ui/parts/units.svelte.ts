import type { LengthUnit } from '../../base/length.ts';

const KEY = 'lengths';

/** The unit that lengths are shown and typed in; files stay in millimetres. */
class Units {
  shown = $state<LengthUnit>(remembered());

  choose(unit: LengthUnit): void {
    this.shown = unit;
    try {
      localStorage.setItem(KEY, unit);
    } catch {
      // Storage is shut in some private windows: it holds for this visit then.
    }
  }
}

function remembered(): LengthUnit {
  try {
    return localStorage.getItem(KEY) === 'in' ? 'in' : 'mm';
  } catch {
    return 'mm';
  }
}

export const units = new Units();
