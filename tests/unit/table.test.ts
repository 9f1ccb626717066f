import { describe, expect, it } from 'vitest';
import { NEW_ARTWORK } from '../../src/artwork/artwork.ts';
import { loadsOf } from '../../src/artwork/run.ts';
import { columnsOf, rowsOf, tableOf, textOfTable } from '../../src/artwork/table.ts';
import { Refusal } from '../../src/base/reason.ts';

describe('a table of names', () => {
  // Quotes as RFC 4180 has them (section 2, rules 5 to 7); separators as spreadsheets write or paste them.
  it.each([
    ['Name,No.\r\n"Smith, Ann",7\r\n"Bo ""Bee"" Berg",12\r\n', 'commas'],
    ['Name;No.\n"Smith, Ann";7\n"Bo ""Bee"" Berg";12', 'semicolons'],
    ['Name\tNo.\nSmith, Ann\t7\n"Bo ""Bee"" Berg"\t12\n\n', 'tabs'],
  ])('%j', (text) => {
    const table = tableOf(text);
    expect(columnsOf(table)).toEqual(['Name', 'No.']);
    expect(rowsOf(table)).toEqual([
      ['Smith, Ann', '7'],
      ['Bo "Bee" Berg', '12'],
    ]);
  });

  it('one column of names may hold commas', () => {
    expect(rowsOf(tableOf('Name\nSmith, Ann\nBerg, Bo'))).toEqual([['Smith, Ann'], ['Berg, Bo']]);
  });

  it('a first row with a figure in it is a piece', () => {
    const table = tableOf('Ann\t7\nBo\t12');
    expect(columnsOf(table)).toEqual(['column 1', 'column 2']);
    expect(rowsOf(table)).toHaveLength(2);
    expect(rowsOf({ ...table, headed: true })).toHaveLength(1);
  });

  it('a short row is filled, one that is too long is refused by its number', () => {
    expect(rowsOf(tableOf('Name;Town\nAnn'))).toEqual([['Ann', '']]);
    const uneven = (): unknown => tableOf('Name;No.\nAnn;7\nBo; Berg;12', 'names.csv');
    expect(uneven).toThrow(Refusal);
    expect(uneven).toThrow(/Row 3 of names\.csv has 3 cells where there are 2 columns/);
  });

  it.each(['', '\n \n'])('%j has no rows', (text) => {
    expect(() => tableOf(text)).toThrow(/no rows/);
  });

  it('letters come out the same from UTF-8, UTF-16 and windows-1252', () => {
    const text = 'Name\nZoë Müller';
    const utf16 = Buffer.concat([Buffer.from([0xff, 0xfe]), Buffer.from(text, 'utf16le')]);
    for (const bytes of [
      Buffer.from(text, 'utf8'),
      Buffer.concat([Buffer.from([0xef, 0xbb, 0xbf]), Buffer.from(text, 'utf8')]),
      utf16,
      Buffer.from(text, 'latin1'),
    ])
      expect(rowsOf(tableOf(textOfTable(new Uint8Array(bytes), 'a.csv')))).toEqual([
        ['Zoë Müller'],
      ]);
    expect(() => textOfTable(Uint8Array.of(0x50, 0x4b, 3, 4, 0, 0), 'a.xlsx')).toThrow(
      /is no text/,
    );
  });
});

describe('what goes into which load', () => {
  const table = tableOf(['Name', ...Array.from({ length: 25 }, (_, k) => `N${k}`)].join('\n'));
  const named = { ...NEW_ARTWORK, run: { table, lines: [] } };

  it('25 names on 12 pockets are three loads, the last of one piece', () => {
    const loads = loadsOf(named, 1, 12);
    expect(loads.map((l) => l.filter(Boolean).length)).toEqual([12, 12, 1]);
    expect(loads[2]![0]).toEqual({ sheet: 0, row: 24 });
    expect(loadsOf(named, 0, 12)[1]![3]).toEqual({ row: 15 });
  });

  it('artworks in turn go on with the next load; one for all is one load', () => {
    const turn = { ...NEW_ARTWORK, share: 'in turn' as const };
    expect(loadsOf(turn, 5, 4).map((l) => l.map((p) => p?.sheet))).toEqual([
      [0, 1, 2, 3],
      [4, undefined, undefined, undefined],
    ]);
    expect(loadsOf(NEW_ARTWORK, 1, 4)).toHaveLength(1);
    expect(loadsOf(NEW_ARTWORK, 0, 4)[0]).toEqual([undefined, undefined, undefined, undefined]);
  });
});
