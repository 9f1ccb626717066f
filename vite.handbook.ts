import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { marked } from 'marked';
import type { Plugin } from 'vite';

const NAME = 'virtual:handbook';
const folder = fileURLToPath(new URL('./docs/handbook/', import.meta.url));

/** One page of the handbook in the program. */
export interface HandbookPage {
  /** Its heading in small letters, words joined by a dash, no leading number. */
  readonly id: string;
  readonly title: string;
  readonly html: string;
}

/** Drawings stand in the page itself: in its ink, on paper and on slate. */
const withDrawings = (html: string): string =>
  html.replace(/<img src="([\w-]+\.svg)" alt="([^"]*)">/g, (_, file: string, says: string) =>
    readFileSync(`${folder}${file}`, 'utf8').replace(
      '<svg ',
      `<svg role="img" aria-label="${says}" `,
    ),
  );

/** The handbook's pages, one for each heading of the second level, as HTML made while building. */
export function handbookPages(): readonly HandbookPage[] {
  const files = readdirSync(folder).filter((name) => name.endsWith('.md'));
  const text = files.map((name) => readFileSync(`${folder}${name}`, 'utf8')).join('\n');
  return text
    .split(/^## /m)
    .slice(1)
    .map((part) => {
      const [title = '', ...body] = part.split('\n');
      const id = title
        .replace(/^\d+\.\s*/, '')
        .toLowerCase()
        .replace(/[^a-z0-9]+/g, '-');
      return { id, title, html: withDrawings(marked.parse(body.join('\n'), { async: false })) };
    });
}

/** Gives `docs/handbook` to the page. */
export function handbook(): Plugin {
  return {
    name: 'handbook',
    resolveId: (id) => (id === NAME ? `\0${NAME}` : undefined),
    load(id) {
      if (id !== `\0${NAME}`) return undefined;
      for (const name of readdirSync(folder)) this.addWatchFile(`${folder}${name}`);
      return `export const pages = ${JSON.stringify(handbookPages())};`;
    },
  };
}
