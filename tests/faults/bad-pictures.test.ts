import { describe, expect, it } from 'vitest';
import { DEFAULT_TRACE, traceFile } from '../../src/cli/trace.ts';
import { BAD_PICTURES } from './bad-pictures.ts';

describe('pictures that cannot be measured', () => {
  it('are of at least twelve kinds', () => {
    expect(BAD_PICTURES.length).toBeGreaterThanOrEqual(12);
  });

  it.each(BAD_PICTURES)(
    '$what is refused with a way out',
    async ({ file, codes, bytes }) => {
      const { trace } = await traceFile(await bytes(), file, { ...DEFAULT_TRACE, thicknessMm: 1 });
      expect(trace.verdict).toBe('refused');
      expect(trace.outlines).toEqual([]);
      const [first] = trace.reasons;
      expect(codes).toContain(first!.code);
      for (const sentence of [first!.message, first!.remedy]) expect(sentence).toMatch(/^\S.*\.$/);
    },
    60_000,
  );
});
