import type { Region, Ring } from '../../geometry/shape.ts';
import {
  inReadingOrder,
  lightOpening,
  lyingAt,
  snapPlace,
  troubleOf,
  type Lying,
  type Snapped,
  type Trouble,
} from '../../plan/free.ts';
import { middleOf } from '../../plan/board-on-bed.ts';
import type { BedPlan, FreePlace, Place } from '../../plan/plan.ts';
import { turnedPlace } from '../../plan/turned-over.ts';
import type { Desk } from '../desk.svelte.ts';

/** What is drawn of every piece of one blank, blank mm. */
export interface Kind {
  readonly blank: number;
  readonly outlineId: string;
  readonly opening: readonly Region<'blank'>[];
  readonly print: Region<'blank'>;
  /** The opening, thinned out for the live check. */
  readonly light: readonly Ring<'blank'>[];
}

/** A pocket in the hand: where it is, what drew it there, and what is wrong with that. */
export interface InHand extends Snapped {
  readonly which: number;
  readonly trouble: readonly Trouble[];
}

const micrometres = (v: number): number => Math.round(v * 1e3) / 1e3 + 0;
const turned = (deg: number): number => micrometres(((deg % 360) + 360) % 360);
/** Two or more pockets whose middles are so near in depth make a row, mm. */
const ROW_MM = 5;

/** Laying pockets one by one: which is chosen, and where it is while it is moved. What is let go goes into the job. */
export class Placing {
  /** Which of the places is chosen. */
  chosen = $state<number>();
  inHand = $state.raw<InHand>();
  /** The bed profile is looked at: its crosses are drawn. */
  profiling = $state(false);
  /** The board for the other side of the pieces is looked at; pockets are moved on the front. */
  back = $state(false);
  /** Whether what is moved is drawn to rows, middles, margins and walls. */
  snaps = $state(true);
  /** Where all others lie, while one is moved. */
  #others: readonly Lying[] = [];
  #plan: BedPlan | undefined;
  #kinds: { readonly of: string; readonly all: readonly Kind[]; readonly from?: unknown } = {
    of: '',
    all: [],
  };

  constructor(readonly desk: Desk) {}

  /** What is drawn of each blank; of the pockets before, while they are made anew. */
  readonly kinds = $derived.by((): readonly Kind[] => {
    const { pockets, trace } = this.desk.results;
    const of = this.desk.entry?.id ?? '';
    if (pockets?.ok) {
      // The same pockets stay the same: what follows from them is not computed again.
      if (this.#kinds.from === pockets.value && this.#kinds.of === of) return this.#kinds.all;
      this.#kinds = {
        of,
        from: pockets.value,
        all: pockets.value.map(({ blank, pocket: { outlineId, opening, print } }) => {
          let light: Kind['light'] | undefined;
          return {
            blank,
            outlineId,
            opening,
            print,
            // Thinned when the first pocket is taken in hand, not while the bed is being drawn.
            get light() {
              return (light ??= lightOpening(opening));
            },
          };
        }),
      };
    } else if (pockets || !trace?.ok || this.#kinds.of !== of) this.#kinds = { of, all: [] };
    return this.#kinds.all;
  });
  /** The plan, or the one before it while it is made anew for the same pockets. */
  readonly plan = $derived.by((): BedPlan | undefined => {
    const { plan } = this.desk.results;
    if (plan?.ok) this.#plan = plan.value;
    const known = this.kinds.map((k) => k.outlineId);
    const stands = this.#plan?.pockets.every((p) => known.includes(p.outlineId));
    if (plan?.ok === false || !stands || this.#plan?.jobNumber !== this.desk.job?.number)
      this.#plan = undefined;
    return this.#plan;
  });
  /** All pockets where they lie now: as the job says where they are laid freely, else as they were laid in rows. */
  readonly places = $derived.by((): readonly FreePlace[] => {
    const bed = this.desk.job?.bed;
    if (bed?.layout === 'free') return (bed.places ?? []).filter((p) => this.kindOf(p.blank));
    return (this.plan?.pockets ?? []).map(({ outlineId, place }) => ({
      blank: this.kinds.find((k) => k.outlineId === outlineId)!.blank,
      ...place,
    }));
  });

  kindOf(blank: number): Kind | undefined {
    return this.kinds.find((k) => k.blank === blank);
  }

  /** The places that are drawn: of the front, or turned over. */
  readonly shown = $derived.by((): readonly FreePlace[] => {
    const bed = this.desk.job?.bed;
    const axis = this.back ? bed?.turnedAbout : undefined;
    return axis ? this.places.map((p) => turnedPlace(p, bed!, axis)) : this.places;
  });

  /** A pocket at a place, as what it is held against. */
  #lying(which: number, place: Place): Lying {
    const { blank } = this.places[which]!;
    return lyingAt(String(which + 1), this.kindOf(blank)!.light, place);
  }

  /** Takes a pocket into the hand. */
  take(which: number): void {
    this.chosen = which;
    this.#others = this.places.flatMap((p, k) => (k === which ? [] : [this.#lying(k, p)]));
  }

  /** Moves the one in the hand, drawn to what is within reach. */
  move(which: number, to: Place, reachMm: number): void {
    const { bed } = this.desk.job!;
    const { light } = this.kindOf(this.places[which]!.blank)!;
    const snapped: Snapped =
      this.snaps && reachMm > 0
        ? snapPlace(light, to, this.#others, bed, reachMm)
        : { place: { ...to, x: micrometres(to.x), y: micrometres(to.y) }, guides: [] };
    const trouble = troubleOf(this.#lying(which, snapped.place), this.#others, bed);
    this.inHand = { which, ...snapped, trouble };
  }

  /** Lets go: from here on it lies there. */
  letGo(): void {
    const held = this.inHand;
    this.inHand = undefined;
    if (held) this.put(held.which, held.place);
  }

  /** Lays one pocket at a place; from then on all lie freely. */
  put(which: number, place: Place): void {
    this.chosen = which;
    this.#lay(this.places.map((p, k) => (k === which ? { ...p, ...rounded(place) } : p)));
    this.#say(which);
  }

  #lay(places: readonly FreePlace[]): void {
    this.desk.change({ bed: { ...this.desk.job!.bed, layout: 'free', places } });
  }

  /** What one who listens must know of a pocket that was moved. */
  #say(which: number): void {
    const place = this.places[which];
    if (!place) return;
    this.take(which);
    const trouble = troubleOf(this.#lying(which, place), this.#others, this.desk.job!.bed);
    this.desk.said =
      trouble.length === 0
        ? `Pocket ${which + 1} lies free`
        : `Pocket ${which + 1} ${trouble.map(troubleWords).join(', ')}`;
  }

  turn(which: number, byDeg: number): void {
    const held = this.inHand?.which === which ? this.inHand.place : undefined;
    const place = held ?? this.places[which]!;
    const next = { ...place, turnDeg: turned(place.turnDeg + byDeg) };
    if (held) this.move(which, next, 0);
    else this.put(which, next);
  }

  /** One more piece of the same blank, beside the chosen one where the bed has room. */
  another(which: number): void {
    const { bed } = this.desk.job!;
    const from = this.places[which]!;
    const { box } = this.#lying(which, from);
    const [w, h] = [box.right - box.left + bed.wallMm, box.top - box.bottom + bed.wallMm];
    const all = this.places.map((p, k) => this.#lying(k, p));
    const ways = [
      [1, 0],
      [0, -1],
      [-1, 0],
      [0, 1],
    ] as const;
    const spots = ways.map(([dx, dy]) => ({ ...from, x: from.x + dx * w, y: from.y + dy * h }));
    const free = spots.find((p) => troubleOf(this.#lying(which, p), all, bed).length === 0);
    const spot = free ?? { ...from, ...middleOf(bed) };
    this.#lay([...this.places, { ...spot, ...rounded(spot) }]);
    this.chosen = this.places.length - 1;
    this.#say(this.chosen);
  }

  takeOff(which: number): void {
    this.#lay(this.places.filter((_, k) => k !== which));
    this.chosen = undefined;
    this.desk.said = `Pocket ${which + 1} taken off`;
  }

  /** Numbers them anew, row by row from the rear, each row from the left. */
  number(): void {
    this.#lay(inReadingOrder(this.places, ROW_MM));
    this.chosen = undefined;
    this.desk.said = 'Numbered row by row';
  }
}

const rounded = ({ x, y, turnDeg, mirrored }: Place): Place => ({
  x: micrometres(x),
  y: micrometres(y),
  turnDeg: turned(turnDeg),
  mirrored,
});

/** What is wrong, in a few words; lengths in mm. */
export function troubleWords(t: Trouble): string {
  const mm = (v: number): string => `${v.toFixed(2)} mm`;
  switch (t.kind) {
    case 'overlap':
      return `runs into ${t.other}`;
    case 'thin':
      return `leaves ${mm(t.wallMm)} of wall to ${t.other}`;
    case 'beyond':
      return `reaches ${mm(t.byMm)} beyond the bed`;
    case 'margin':
      return `comes within ${mm(t.edgeMm)} of the edge`;
    case 'keep-out':
      return `lies on ${t.what}`;
    case 'board':
      return t.wallMm < 0
        ? `reaches ${mm(-t.wallMm)} beyond the board`
        : `leaves ${mm(t.wallMm)} of wall to the board's edge`;
    case 'hole':
      return t.wallMm <= 0 ? `runs into ${t.what}` : `leaves ${mm(t.wallMm)} of wall to ${t.what}`;
  }
}
