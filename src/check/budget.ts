import type { Source } from '../view/view.ts';
import type { Dimension } from './check.ts';
import { expansion } from './student.ts';

/** One input of a measurement, as JCGM 100 (GUM), 8, wants it told. */
export interface Input {
  readonly name: string;
  /** Estimate, where there is one to tell. */
  readonly value?: number;
  readonly unit: string;
  /** Standard uncertainty, in `unit`. */
  readonly u: number;
  /** Partial derivative of the result by this input, result's unit per `unit`. */
  readonly sensitivity: number;
  /** Degrees of freedom; absent: known so well that they count as infinite. */
  readonly degrees?: number;
  /** Where its uncertainty comes from. */
  readonly source: string;
}

export interface Combined {
  /** Combined standard uncertainty, in the result's unit. */
  readonly u: number;
  /** Of each input in order: |sensitivity| · u, and its share of u² (with correlated inputs, its half of every pair). */
  readonly contributions: readonly { readonly u: number; readonly share: number }[];
  /** Effective degrees of freedom. */
  readonly degrees: number;
}

/**
 * Law of propagation, JCGM 100, 5.2.2, equation 16: u² = Σ Σ c_i c_j u_i u_j r_ij; effective degrees of freedom after
 * Welch and Satterthwaite, G.4.1, equation G.2b (for inputs that are independent).
 *
 * @param correlation r_ij for i < j; 0 when left out
 */
export function combine(
  inputs: readonly Input[],
  correlation: (i: number, j: number) => number = () => 0,
): Combined {
  const signed = inputs.map(({ u, sensitivity }) => sensitivity * u);
  const rows = signed.map((a, i) =>
    signed.reduce(
      (sum, b, j) => sum + a * b * (i === j ? 1 : correlation(Math.min(i, j), Math.max(i, j))),
      0,
    ),
  );
  const variance = rows.reduce((a, b) => a + b, 0);
  const fourth = signed.reduce((sum, a, i) => sum + a ** 4 / (inputs[i]!.degrees ?? Infinity), 0);
  return {
    u: Math.sqrt(Math.max(0, variance)),
    contributions: signed.map((a, i) => ({
      u: Math.abs(a),
      share: variance > 0 ? rows[i]! / variance : 0,
    })),
    degrees: fourth > 0 ? variance ** 2 / fourth : Infinity,
  };
}

/** Expanded uncertainty and its factor for a probability, from Student's t at the effective degrees of freedom, cut to a whole number (G.4.1). */
export function expand(
  { u, degrees }: Pick<Combined, 'u' | 'degrees'>,
  probability: number,
): { readonly k: number; readonly expandedU: number } {
  const k = expansion(probability, Number.isFinite(degrees) ? Math.floor(degrees) : Infinity);
  return { k, expandedU: k * u };
}

/** Standard uncertainty of a quantity known to lie within ± a, by its law. JCGM 100, 4.3.7 to 4.3.9, and H.1.3.4 (arcsine). */
export const lawOf = {
  rectangular: (a: number): number => a / Math.sqrt(3),
  triangular: (a: number): number => a / Math.sqrt(6),
  arcsine: (a: number): number => a / Math.sqrt(2),
} as const;

/**
 * Factor for a probability where two rectangular inputs, of half-widths a >= b after their sensitivities, outweigh all
 * others: their sum is a trapezoid. Source: EA-4/02, S10.13.
 */
export function trapezoidFactor(probability: number, a: number, b: number): number {
  const beta = (a - b) / (a + b);
  return (1 - Math.sqrt((1 - probability) * (1 - beta * beta))) / Math.sqrt((1 + beta * beta) / 6);
}

/** What was entered for a source: its value where it has one, and its standard uncertainty, mm. */
export type Entered = Readonly<
  Partial<Record<Source, { readonly value?: number; readonly u: number; readonly from: string }>>
>;

/**
 * The budget of a dimension as a table of inputs. What was entered stands with its own uncertainty, and its sensitivity is
 * how far the dimension moves by it after the adjustment; what only the picture tells stands as its contribution.
 */
export const inputsOf = ({ budget }: Dimension, entered: Entered): readonly Input[] =>
  budget.map(({ source, u }) => {
    const own = entered[source];
    return own && own.u > 0
      ? {
          name: source,
          ...(own.value === undefined ? {} : { value: own.value }),
          unit: 'mm',
          u: own.u,
          sensitivity: u / own.u,
          source: own.from,
        }
      : { name: source, unit: 'mm', u, sensitivity: 1, source: 'the picture and its adjustment' };
  });
