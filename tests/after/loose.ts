/** Beds loaded without a jig, by the hundred, with what can go wrong with them: whether any of it passes, and how often U holds. */
import type { Clipper } from '../../src/geometry/clipper.ts';
import {
  MIX_UPS,
  NAMED_BY,
  playLoad,
  type MixUp,
  type PlayedLoad,
} from '../support/loose-loads.ts';

/** An outline is called wrong that lies farther off than so many times its U, as in `npm run accuracy`. */
const WRONG_U = 3;

/** What is wrong with a load and was not named; undefined: nothing. */
function unflagged({ mixUp, load, landed, fit }: PlayedLoad): string | undefined {
  const said = load.reasons.map(({ code }) => code);
  if (mixUp !== 'nothing' && !said.some((code) => NAMED_BY[mixUp].includes(code)))
    return `${mixUp} was not named (${said.join(', ') || 'nothing said'})`;
  const far = fit && landed.find(({ offMm, U }) => offMm > WRONG_U * U);
  return far ? `a piece ${far.offMm.toFixed(2)} mm off, U ${far.U.toFixed(2)}` : undefined;
}

/**
 * One line for each kind of mix-up, one for all.
 * @returns how many loads are wrong and were not flagged
 */
export function playMixUps(clipper: Clipper, count: number, say: (line: string) => void): number {
  const played = new Map<MixUp, { wrong: number; loads: PlayedLoad[] }>();
  for (let k = 0; k < count; k++) {
    const mixUp = MIX_UPS[k % MIX_UPS.length]!;
    const one = playLoad(clipper, 1000 + k, mixUp);
    const so = played.get(mixUp) ?? { wrong: 0, loads: [] };
    const wrong = unflagged(one);
    if (wrong) say(`WRONG, NOT FLAGGED: load ${1000 + k}, ${wrong}`);
    played.set(mixUp, { wrong: so.wrong + (wrong ? 1 : 0), loads: [...so.loads, one] });
  }
  for (const [mixUp, { wrong, loads }] of played)
    say(
      `${mixUp}: ${loads.length} loads, ${mixUp === 'nothing' ? `${loads.filter(({ fit }) => !fit).length} spoken against` : `${loads.length - wrong} named`}`,
    );
  const all = [...played.values()];
  const wrong = all.reduce((sum, { wrong: w }) => sum + w, 0);
  // What is moved between two photos lies at two places.
  const landed = [...played].flatMap(([mixUp, { loads }]) =>
    mixUp === 'moved' || mixUp === 'turned' ? [] : loads.flatMap((l) => l.landed),
  );
  const within = landed.filter(({ offMm, U }) => offMm <= U).length;
  const offs = landed.map(({ offMm }) => offMm).sort((a, b) => a - b);
  const at = (share: number): string => offs[Math.floor(share * (offs.length - 1))]!.toFixed(3);
  say(
    `${count} loads, 1 to 40 mm thick, simulated marks and edges: ${wrong} wrong and not flagged; ${landed.length} pieces placed, ${((100 * within) / landed.length).toFixed(1)} % within U; off at most: half within ${at(0.5)}, 95 % within ${at(0.95)}, all within ${at(1)} mm`,
  );
  return wrong;
}
