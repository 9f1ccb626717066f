import { expect, it } from 'vitest';
import { go, openSample } from './page.ts';

it('draws on the picture how its marks miss and how well the face is known, each to a stated ratio', async () => {
  const { page, errors } = await openSample();
  await go(page, 'Picture');
  const drawn = (kind: string): Promise<string | null> =>
    page.locator(`path.${kind}`).first().getAttribute('d');
  expect((await drawn('mark'))!.length).toBeGreaterThan(100);
  await page.getByRole('radio', { name: 'misfit' }).check({ force: true });
  await page.getByText(/how each mark misses, drawn \d+ : 1/).waitFor();
  await page.getByRole('radio', { name: 'doubt' }).check({ force: true });
  await page.getByText(/doubt of the face, k = 2, drawn \d+ : 1/).waitFor();
  // Rings all over the sheet, least somewhere inside: only shape is in doubt, not place.
  const sizes = ((await drawn('doubt')) ?? '')
    .split('Z')
    .filter(Boolean)
    .map((d) => {
      const xy = d.match(/-?[\d.]+/g)!.map(Number);
      const spread = (from: number): number => {
        const v = xy.filter((_, k) => k % 2 === from);
        return Math.max(...v) - Math.min(...v);
      };
      return Math.hypot(spread(0), spread(1));
    });
  expect(sizes.length).toBeGreaterThan(40);
  const least = Math.min(...sizes);
  expect(sizes[0]).toBeGreaterThan(2 * least);
  expect(sizes.at(-1)).toBeGreaterThan(2 * least);
  const help = page.getByRole('region', { name: 'Picture' });
  await help.getByText('What would help, and what it would come to').waitFor();
  expect(errors).toEqual([]);
});
