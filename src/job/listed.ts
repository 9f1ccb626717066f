import type { Frame } from '../base/measure.ts';
import type { Outcome } from '../base/reason.ts';
import type { Region } from '../geometry/shape.ts';
import type { Outline } from '../outline/outline.ts';
import type { PlacedPocket } from '../plan/plan.ts';
import type { Pocket } from '../pocket/pocket.ts';
import type { Jig } from './jig.ts';
import type { Results } from './run.ts';

const of = <T>(answer: Outcome<T>, lean: (value: T) => T): Outcome<T> =>
  answer.ok ? { ok: true, value: lean(answer.value) } : answer;

const empty = <F extends Frame>(): Region<F> => ({ outer: [], holes: [] });
const bare = (outline: Outline): Outline => ({
  ...outline,
  modes: [],
  curves: { outer: { start: { x: 0, y: 0 }, segments: [] }, holes: [] },
  edgeU: [],
});

const pocketSaid = (pocket: Pocket): Pocket => ({
  ...pocket,
  wall: [],
  cut: [],
  trails: [],
  print: empty(),
  bleed: [],
  safe: [],
  mouth: [],
  unreached: [],
  relief: [],
  opening: [],
  notches: [],
  eject: [],
  widened: [],
});

type Seated = Jig['blanks'][number];
const seatSaid = ({ id, blank, at, rider, mirrored }: Seated['seat']): Seated['seat'] => ({
  id,
  blank,
  at,
  rider,
  mirrored,
  region: empty(),
  u: [],
  hidden: [],
});

const placeSaid = ({ id, outlineId, place }: PlacedPocket): PlacedPocket => ({
  id,
  outlineId,
  place,
  wall: [],
  cut: [],
  print: empty(),
  bleed: [],
  safe: [],
  trails: [],
  relief: [],
  notches: [],
  mouth: [],
  eject: [],
  opening: [],
});

/**
 * Results as far as a list of jobs shows them: what is said of each step, and the outlines. What they were computed with (marks,
 * residuals, displacement modes), the curves (their points are there), the rings of pockets, and the files are left out; a job that is opened again is computed again.
 */
export function listed({
  info,
  found,
  look,
  view,
  trace,
  checks,
  kind,
  pockets,
  plan,
}: Results): Results {
  return {
    ...(info && { info }),
    ...(found && { found: of(found, (f) => ({ ...f, marks: [] })) }),
    ...(look && { look }),
    ...(view && { view: of(view, (v) => ({ ...v, modes: [], residuals: [] })) }),
    ...(trace && { trace: of(trace, (t) => ({ ...t, outlines: t.outlines.map(bare) })) }),
    ...(checks && { checks }),
    ...(kind && {
      kind: of(kind, (k) => ({
        ...k,
        reference: bare(k.reference),
        pieces: [],
        envelope: bare(k.envelope),
        ...(k.mean && { mean: bare(k.mean) }),
        spreadMm: [],
      })),
    }),
    ...(pockets && {
      pockets: of(pockets, (blanks) =>
        blanks.map(({ blank, seat, print, pocket }) => ({
          blank,
          seat: seatSaid(seat),
          print: seatSaid(print),
          pocket: pocketSaid(pocket),
        })),
      ),
    }),
    ...(plan && { plan: of(plan, (p) => ({ ...p, pockets: p.pockets.map(placeSaid) })) }),
  };
}
