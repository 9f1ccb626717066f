import { expect, it } from 'vitest';
import { inverse, Matrix } from 'ml-matrix';
import {
  covarianceOf,
  covarianceOfSums,
  emptyNormal,
  leastSquares,
  solveNormal,
} from '../../src/view/least-squares.ts';

/**
 * NIST/ITL Statistical Reference Datasets, nonlinear regression: certified parameters and standard deviations.
 * Misra1a from its table; BoxBOD and MGH09 from memory (data and certified values).
 */
interface Row {
  readonly name: string;
  readonly x: readonly number[];
  readonly y: readonly number[];
  readonly model: (b: readonly number[], x: number) => number;
  readonly starts: readonly (readonly number[])[];
  readonly certified: readonly (readonly [value: number, sd: number])[];
}

const rows: readonly Row[] = [
  {
    name: 'Misra1a',
    x: [
      77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760,
    ],
    y: [
      10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47,
      81.78,
    ],
    model: (b, x) => b[0]! * (1 - Math.exp(-b[1]! * x)),
    starts: [
      [500, 1e-4],
      [250, 5e-4],
    ],
    certified: [
      [238.94212918, 2.7070075241],
      [5.5015643181e-4, 7.2668688436e-6],
    ],
  },
  {
    name: 'BoxBOD',
    x: [1, 2, 3, 5, 7, 10],
    y: [109, 149, 149, 191, 213, 224],
    model: (b, x) => b[0]! * (1 - Math.exp(-b[1]! * x)),
    starts: [[100, 0.75]],
    certified: [
      [213.80940889, 12.354515176],
      [0.54723748542, 0.10455993237],
    ],
  },
  {
    name: 'MGH09',
    x: [4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625],
    y: [0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246],
    model: (b, x) => (b[0]! * (x * x + x * b[1]!)) / (x * x + x * b[2]! + b[3]!),
    starts: [
      [25, 39, 41.5, 39],
      [0.25, 0.39, 0.415, 0.39],
    ],
    certified: [
      [0.19280693458, 0.011435312227],
      [0.19128232873, 0.19633220911],
      [0.12305650693, 0.080842031232],
      [0.13606233068, 0.090025542308],
    ],
  },
];

for (const { name, x, y, model, starts, certified } of rows) {
  it.each(starts)(`${name} from %d, %d`, (...start) => {
    const fit = leastSquares((b) => x.map((v, k) => y[k]! - model(b, v)), start);
    certified.forEach(([value, sd], k) => {
      expect(Math.abs(fit.parameters[k]! / value - 1)).toBeLessThan(1e-6);
      expect(Math.abs(fit.standardDeviations[k]! / sd - 1)).toBeLessThan(1e-4);
    });
  });
}

it('BoxBOD from its far start 1, 1 is not solved, and says so instead of returning numbers', () => {
  const { x, y, model } = rows[1]!;
  // The first step leads to where the data no longer say anything about b2: a known limit of plain Levenberg-Marquardt.
  expect(() => leastSquares((b) => x.map((v, k) => y[k]! - model(b, v)), [1, 1])).toThrow(
    'positive definite',
  );
});

it('solves and inverts alike, whether it knows where the rows end or not', () => {
  // Two parameters that both blocks of three share, in the middle of the first block's own.
  const [size, first, second] = [8, [0, 1, 2, 3, 4], [1, 2, 5, 6, 7]];
  const ends = Int32Array.from({ length: size }, (_, k) => (k === 1 || k === 2 || k > 4 ? 8 : 5));
  const [known, whole] = [emptyNormal(size, ends), emptyNormal(size)];
  for (let k = 0; k < 24; k++) {
    const row = new Float64Array(size);
    (k % 2 ? first : second).forEach((at, m) => (row[at] = Math.sin((3 * k + 1) * (m + 2))));
    for (const { matrix, gradient } of [known, whole]) {
      row.forEach((v, i) => {
        gradient[i]! += v * Math.cos(k);
        for (let j = i; j < size; j++) matrix[i * size + j]! += v * row[j]!;
      });
    }
  }
  for (const damping of [0, 0.1]) {
    const full = solveNormal(whole, damping)!;
    solveNormal(known, damping)!.forEach((v, k) => expect(v).toBeCloseTo(full[k]!, 12));
  }
  // Against a second implementation: ml-matrix's LU decomposition.
  const filled = Array.from({ length: size }, (_, i) =>
    Array.from({ length: size }, (_, j) => whole.matrix[Math.min(i, j) * size + Math.max(i, j)]!),
  );
  const expected = inverse(new Matrix(filled)).to1DArray();
  for (const normal of [known, whole]) {
    covarianceOf(normal).forEach((v, k) => expect(v).toBeCloseTo(expected[k]!, 10));
    // Sums of two parameters and of three, one of them in both: J P J' written out.
    const sums = [
      { at: [0, 5], weights: [2, -1] },
      { at: [5, 2, 7], weights: [1, 0.5, 3] },
    ];
    const covariance = covarianceOfSums(normal, sums);
    sums.forEach((a, i) =>
      sums.forEach((b, j) => {
        const written = a.at.flatMap((m, s) =>
          b.at.map((n, t) => a.weights[s]! * b.weights[t]! * expected[m * size + n]!),
        );
        expect(covariance[i]![j]!).toBeCloseTo(
          written.reduce((sum, v) => sum + v, 0),
          10,
        );
      }),
    );
  }
});
