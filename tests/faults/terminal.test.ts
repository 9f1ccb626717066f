import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { run } from '../../src/cli/command-line.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { outlineJson } from '../../src/files/outline-json.ts';
import { card, outlineOf } from '../outlines.ts';
import { BAD_PICTURES } from './bad-pictures.ts';

const root = fileURLToPath(new URL('../../', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'terminal-'));
afterAll(() => rmSync(folder, { recursive: true }));
const at = (name: string): string => join(folder, name);

interface Answer {
  readonly status: number | null;
  readonly out: string;
  readonly said: string;
}

/** The command line in a process of its own, as an operator's terminal runs it, without npm's own start-up. */
function inTerminal(...args: string[]): Answer {
  const tsx = join(root, 'node_modules/tsx/dist/cli.mjs');
  const { status, stdout, stderr } = spawnSync(
    process.execPath,
    [tsx, join(root, 'src/cli/main.ts'), ...args],
    { cwd: root, encoding: 'utf8' },
  );
  return { status, out: stdout, said: stderr };
}

/** The same command line in this process, which has loaded before what each new one would have to load. */
async function snugline(...args: string[]): Promise<Answer> {
  const lines = { log: '', error: '' };
  const spies = (['log', 'error'] as const).map((to) =>
    vi.spyOn(console, to).mockImplementation((line) => void (lines[to] += `${line}\n`)),
  );
  try {
    return { status: await run(args), out: lines.log, said: lines.error };
  } finally {
    for (const spy of spies) spy.mockRestore();
  }
}

/** Sentences only: named, ended with a full stop, and no sign of a stack. */
function expectSentences(said: string): void {
  expect(said).not.toMatch(/^\s+at |node:internal|\.ts:\d+|undefined|NaN/m);
  const lines = said.trimEnd().split('\n');
  for (const line of lines) expect(line).toMatch(/^snugline: .*\.$/);
}

describe('in a process of its own', () => {
  it.each([
    [0, ['--version'], /^\d+\.\d+\.\d+\n$/, /^$/],
    [2, [], /^$/, /Say what to do/],
    [3, ['jig', '--outline', at('nowhere.json'), '--out', at('uncut')], /^$/, /no such file/],
  ] as const)('exit status %d, and each sentence where it belongs', (status, args, out, said) => {
    const answer = inTerminal(...args);
    expect(answer.status).toBe(status);
    expect(answer.out).toMatch(out);
    expect(answer.said).toMatch(said);
  });
});

describe('bad pictures, from the terminal', () => {
  it.each(BAD_PICTURES)(
    '$what: exit 3, a sentence, reasons in the file and no features',
    async ({ file, bytes, codes }) => {
      writeFileSync(at(file), await bytes());
      const out = at(`${file}.json`);
      const { status, said } = await snugline(
        'trace',
        at(file),
        '--thickness',
        '1',
        '--out',
        out,
        '--force',
      );
      expect(said).not.toBe('');
      expectSentences(said);
      expect(status).toBe(3);
      const written = JSON.parse(readFileSync(out, 'utf8'));
      expect(written.features).toEqual([]);
      expect(written.snugline.verdict).toBe('refused');
      expect(codes).toContain(written.snugline.reasons[0].code);
    },
    120_000,
  );

  it('a lens profile from nothing that can be used: exit 3, each picture named, no file', async () => {
    writeFileSync(at('empty.jpg'), '');
    const out = at('no-lens.json');
    const { status, said } = await snugline('lens', at('empty.jpg'), at('none.jpg'), '--out', out);
    expect(status).toBe(3);
    expectSentences(said);
    expect(said).toMatch(/empty\.jpg is left out.*\n.*none\.jpg is left out.*no such file/);
    expect(existsSync(out)).toBe(false);
  });

  it('a lens profile that is none: exit 3, and the file says so', async () => {
    writeFileSync(at('not-a-lens.json'), '{"snugline":"something"}');
    const picture = join(root, 'fixtures/o01-card.jpg');
    const out = at('with-lens.json');
    const args = ['--thickness', '0.78', '--lens', at('not-a-lens.json'), '--out', out];
    const { status, said } = await snugline('trace', picture, ...args);
    expect(status).toBe(3);
    expectSentences(said);
    expect(JSON.parse(readFileSync(out, 'utf8')).snugline.reasons[0].code).toBe(
      'lens-profile-unread',
    );
  });

  it('a picture that is not there: exit 3, and the file says so', async () => {
    const out = at('none.json');
    const { status, said } = await snugline(
      'trace',
      at('none.jpg'),
      '--thickness',
      '1',
      '--out',
      out,
    );
    expectSentences(said);
    expect(status).toBe(3);
    expect(JSON.parse(readFileSync(out, 'utf8'))).toMatchObject({
      features: [],
      snugline: { verdict: 'refused', reasons: [{ code: 'picture-unreadable' }] },
    });
  });
});

describe('wrong usage: exit 2, one sentence, nothing written', () => {
  const picture = join(root, 'fixtures/o01-card.jpg');
  const trace = (...more: string[]): string[] => [
    'trace',
    picture,
    '--out',
    at('no.json'),
    ...more,
  ];
  it.each([
    ['no verb', [], /Say what to do/],
    ['a verb that is not there yet', ['mend', picture], /no verb "mend"/],
    ['a name that every object has', ['constructor'], /no verb/],
    ['an unknown option', ['sheet', '--colour', 'red'], /no option --colour/],
    ['no place to write to', ['sheet'], /needs --out/],
    ['an option without its value', ['sheet', '--out'], /needs a value/],
    ['paper that is none', ['sheet', '--paper', 'A9', '--out', at('no.pdf')], /two lengths in mm/],
    ['paper too small', ['sheet', '--paper', '20x20', '--out', at('no.pdf')], /100 to 1600/],
    ['a stage that is no colour', ['sheet', '--stage', 'x', '--out', at('no.pdf')], /no colour/],
    ['a rider of no size', ['rider', '--size', '25', '--out', at('no.pdf')], /20, 30, 40, 50/],
    ['no picture', ['trace', '--thickness', '1', '--out', at('no.json')], /needs a picture/],
    ['no thickness', trace(), /needs --thickness/],
    ['a thickness with a comma', trace('--thickness', '1,5,2'), /decimals/],
    ['a thickness with a unit', trace('--thickness', '10mm'), /without the unit/],
    ['a negative thickness', trace('--thickness', '-3'), /0 or more/],
    ['a blank named twice', trace('--thickness', '1=2,1=3'), /twice/],
    ['a span without a name', trace('--thickness', '1', '--spans', '140'), /which span/],
    ['a span that is none', trace('--thickness', '1', '--spans', 'q=140'), /x, y or d/],
    [
      'a rider span off the mark',
      trace('--thickness', '1', '--rider-span', '25'),
      /measure it again/,
    ],
    ['a face that is none', trace('--thickness', '1', '--face', 'front'), /print or back/],
    ['an option twice', trace('--thickness', '1', '--thickness', '2'), /twice/],
    ['a lens for a scan', trace('--scan', '--lens', 'x.json'), /leave one of them out/],
    [
      'a lens profile that is not there',
      trace('--thickness', '1', '--lens', 'x.json'),
      /no such file/,
    ],
    ['no pictures of a lens', ['lens', '--out', at('no.json')], /needs pictures/],
    [
      'a board without its squares',
      ['lens', 'x.jpg', '--board', '9x6', '--out', at('no.json')],
      /go together/,
    ],
    [
      'a board of one count',
      ['lens', 'x.jpg', '--board', '9', '--square', '25', '--out', at('no.json')],
      /two counts/,
    ],
    [
      'a picture given twice',
      ['trace', 'a.jpg', 'a.jpg', '--thickness', '1', '--out', at('no.json')],
      /given twice/,
    ],
    [
      'several scans together',
      ['trace', 'a.jpg', 'b.jpg', '--scan', '--out', at('no.json')],
      /one at a time/,
    ],
    [
      'two pictures of one name, apart',
      ['trace', 'a/p.jpg', 'b/p.jpg', '--thickness', '1', '--separate', '--out', at('apart')],
      /both go into p\.json/,
    ],
    [
      'a folder that is not there',
      ['rider', '--out', at('nowhere/rider.pdf')],
      /nowhere does not exist/,
    ],
    [
      'kerf and cutter together',
      ['jig', '--outline', 'x', '--out', at('no'), '--kerf', '1', '--cutter-radius', '1'],
      /not both/,
    ],
    [
      'artwork for a back that is not printed',
      ['jig', '--outline', 'x', '--out', at('no'), '--back-artwork', 'a.svg'],
      /needs --both-sides/,
    ],
    [
      'where artwork lies on a back without any',
      ['jig', '--outline', 'x', '--out', at('no'), '--both-sides', 'depth', '--back-art-at', '1x1'],
      /needs --back-artwork/,
    ],
    [
      'a photo and distances by hand',
      ['bed-profile', '--bed', '400x280', '--picture', 'p.jpg', '--bed-read', 'A-B=360'],
      /gives x and y alone/,
    ],
    [
      'a bed reading that is none',
      ['bed-profile', '--bed', '400x280', '--bed-read', 'x=1', '--before', at('no-reading.json')],
      /cannot be .*no-reading\.json/,
    ],
    [
      'a bed of one number',
      ['jig', '--outline', 'x', '--out', at('no'), '--bed', '400'],
      /two lengths/,
    ],
    [
      'a zero corner that is none',
      ['jig', '--outline', 'x', '--out', at('no'), '--zero', 'left'],
      /top-left/,
    ],
    ['half a row', ['jig', '--outline', 'x', '--out', at('no'), '--rows', '1.5'], /whole number/],
  ] as const)('%s', async (_, args, words) => {
    const { status, out, said } = await snugline(...args);
    expect(said).toMatch(words);
    expectSentences(said);
    expect(said.trimEnd().split('\n')).toHaveLength(1);
    expect(status).toBe(2);
    expect(out).toBe('');
    for (const name of ['no.json', 'no.pdf', 'no']) expect(existsSync(at(name))).toBe(false);
  });
});

describe('files', () => {
  it('are never overwritten unasked', async () => {
    writeFileSync(at('kept.pdf'), 'kept');
    const first = await snugline('rider', '--out', at('kept.pdf'));
    expect(first.status).toBe(2);
    expect(first.said).toMatch(/exists already.*--force/);
    expect(readFileSync(at('kept.pdf'), 'utf8')).toBe('kept');
    expect((await snugline('rider', '--out', at('kept.pdf'), '--force')).status).toBe(0);
    expect(readFileSync(at('kept.pdf'), 'latin1').slice(0, 4)).toBe('%PDF');
  });

  it.each([
    ['not there', undefined, /there is no such file/],
    ['not JSON', 'x', /cannot be read as outlines/],
    ['another JSON', '{"type":"FeatureCollection"}', /cannot be read as outlines/],
    [
      'refused',
      JSON.stringify({
        type: 'FeatureCollection',
        features: [],
        snugline: {
          version: 1,
          verdict: 'refused',
          reasons: [
            { code: 'no-sheet', level: 'refuse', message: 'No sheet.', remedy: 'Show it.' },
          ],
        },
      }),
      /outline was refused/,
    ],
  ] as const)('an outline file that is %s: jig exits with 3', async (what, text, words) => {
    const path = at(`outline-${what}.json`);
    if (text !== undefined) writeFileSync(path, text);
    const out = at(`jig-${what}`);
    mkdirSync(out);
    const { status, said } = await snugline('jig', '--outline', path, '--out', out);
    expectSentences(said);
    expect(said).toMatch(words);
    expect(status).toBe(3);
    expect(existsSync(join(out, 'cut.dxf'))).toBe(false);
  });
});

it('spans read in inches are refused with the span, the figure and the way out', async () => {
  const { status, said } = await snugline(
    'trace',
    join(root, 'fixtures/o01-card.jpg'),
    ...['--thickness', '0.78', '--spans', 'x=5.51,y=139.89', '--out', at('inches.json')],
  );
  expect(said).toMatch(/5.51 mm is 96.1 % away from the 140 mm that span X.*Read it again/);
  expectSentences(said);
  expect(status).toBe(3);
  expect(JSON.parse(readFileSync(at('inches.json'), 'utf8')).features).toEqual([]);
});

describe('scans', () => {
  it('the strip is written with its page and spans in one line of JSON', async () => {
    const { status, out, said } = await snugline('strip', '--out', at('strip.pdf'));
    expect(status).toBe(0);
    expect(said).toBe('');
    const strip = JSON.parse(out);
    expect(strip.page_mm[0]).toBe(200);
    expect(strip.page_mm[1]).toBeLessThanOrEqual(38);
    expect(strip.spans.map((s: { id: string }) => s.id)).toEqual(['x', 'y', 'd']);
  });

  it.each([
    ['a density without a number', ['--dpi', 'three hundred'], /--dpi cannot be/],
    ['its uncertainty alone', ['--dpi-u', '1'], /give --dpi as well/],
    ['two scales at once', ['--dpi', '300', '--scanner', at('s.json')], /give one of them/],
    ['a profile that is not there', ['--scanner', at('none.json')], /cannot be read/],
  ])('%s is wrong usage', async (_, options, expected) => {
    const { status, said } = await snugline(
      'trace',
      join(root, 'fixtures/o01-card.jpg'),
      ...options,
      ...['--out', at('scan.json')],
    );
    expect(said).toMatch(expected);
    expect(status).toBe(2);
  });

  it('a photo is no scan of a measured sheet without thickness asked for', async () => {
    const { status, said } = await snugline(
      'trace',
      join(root, 'fixtures/o01-card.jpg'),
      '--out',
      at('x.json'),
    );
    expect(said).toMatch(/needs --thickness/);
    expect(status).toBe(2);
  });
});

describe('sheet and rider', () => {
  it('tell page and spans in one line of JSON', async () => {
    const { status, out, said } = await snugline(
      'sheet',
      '--paper',
      'A4',
      '--stage',
      'white',
      '--out',
      at('a4.pdf'),
    );
    expect(status).toBe(0);
    expect(said).toBe('');
    const told = JSON.parse(out);
    expect(told.page_mm).toEqual([210, 297]);
    expect(told.spans.map((s: { id: string }) => s.id)).toEqual(['x', 'y', 'd']);
    for (const { from, to, nominal_mm } of told.spans)
      expect(Math.hypot(to[0] - from[0], to[1] - from[1])).toBeCloseTo(nominal_mm, 3);
    const rider = JSON.parse((await snugline('rider', '--size', '50', '--out', at('r.pdf'))).out);
    expect(rider.page_mm).toEqual([50, 50]);
    expect(rider.spans).toHaveLength(1);
    expect(rider.spans[0].nominal_mm).toBe(50);
  });

  it.each(['sheet', 'rider', 'trace', 'jig'])('%s explains itself', async (verb) => {
    const { status, out } = await snugline(verb, '--help');
    expect(status).toBe(0);
    expect(out).toContain('--out');
  });
});

describe('jig, before any caliper reading', () => {
  const outline = at('card-outline.json');
  writeFileSync(outline, outlineJson({ outlines: [outlineOf(card)], verdict: 'ok', reasons: [] }));
  const sheetOf = async (folder: string): Promise<string> => {
    const bytes = new Uint8Array(readFileSync(join(folder, 'job-sheet.pdf')));
    const doc = await (await loadPdfjs()).getDocument({ data: bytes, verbosity: 0 }).promise;
    const { items } = await (await doc.getPage(1)).getTextContent();
    return items.map((item) => ('str' in item ? item.str : '')).join(' ');
  };

  it('says NOT CHECKED three times over and asks for a reason', async () => {
    const { status, out, said } = await snugline('jig', '--outline', outline, '--out', at('bare'));
    expectSentences(said);
    expect(status).toBe(0);
    expect(said).toMatch(/NOT CHECKED.*--because TEXT/);
    expect(out).toMatch(/NOT CHECKED.*no reason given/);
    expect(await sheetOf(at('bare'))).toMatch(
      /NOT CHECKED.*no reason was given.*no name was given/,
    );
  }, 60_000);

  it('lays a board of its own size on its pins, and says which option is missing or does not go', async () => {
    const of = ['jig', '--outline', outline, '--out', at('board')];
    const size = ['--board-size', '300x200', '--board-at', '20x10'];
    const good = await snugline(...of, ...size, '--pins', '35x190,300x30', '--material', 'acrylic');
    expect(good.status).toBe(0);
    const { board_mm } = JSON.parse(readFileSync(join(at('board'), 'plan.json'), 'utf8')) as {
      board_mm: { size: number[]; holes: { at: number[] }[] };
    };
    expect(board_mm.size).toEqual([300, 200]);
    expect(board_mm.holes.map((h) => h.at)).toEqual([
      [35, 190],
      [300, 30],
    ]);
    for (const [words, says] of [
      [['--pins', '35x190,300x30'], /--pins needs --board-size/],
      [[...size, '--pins', '35x190'], /--pins takes two places/],
      [[...size, '--board-seat', 'screws'], /--board-seat screws needs --screws/],
      [[...size, '--board-seat', 'stop', '--slot', '2'], /--slot does not go with/],
      [[...size, '--proud', '2'], /--proud does not go with/],
    ] as const) {
      const { status, said } = await snugline(...of, ...words, '--force');
      expect(status).toBe(2);
      expectSentences(said);
      expect(said).toMatch(says);
    }
  }, 120_000);

  it('prints the reason and the name on the job sheet', async () => {
    const words = ['--because', 'a trial cut in card', '--by', 'R. Maker', '--material', 'card'];
    const { status, out, said } = await snugline(
      'jig',
      '--outline',
      outline,
      '--out',
      at('said'),
      ...words,
    );
    expect(status).toBe(0);
    expect(said).toBe('');
    expect(out).toMatch(/NOT CHECKED/);
    expect(await sheetOf(at('said'))).toMatch(/NOT CHECKED.*a trial cut in card.*R\. Maker/);
  }, 60_000);
});
