import { XMLParser, XMLValidator } from 'fast-xml-parser';

/** An element of an SVG. */
export interface Element {
  readonly name: string;
  readonly attributes: ReadonlyMap<string, string>;
  readonly children: readonly Element[];
  /** Words that stand in it, its own and not those of its children. */
  readonly text: string;
}

interface Raw {
  readonly [tag: string]: unknown;
}

const parser = new XMLParser({
  ignoreAttributes: false,
  attributeNamePrefix: '',
  preserveOrder: true,
  parseAttributeValue: false,
  parseTagValue: false,
  trimValues: false,
  processEntities: true,
});

/**
 * The elements of an SVG.
 * @throws Error where it is not well-formed, or has no svg element
 */
export function elementsOf(text: string): Element {
  const valid = XMLValidator.validate(text);
  if (valid !== true) throw new Error(`it is not well-formed: ${valid.err.msg}`);
  const root = (parser.parse(text) as Raw[]).find((n) => nameOf(n) === 'svg');
  if (!root) throw new Error('it has no svg element');
  return elementOf(root);
}

/** The name without a prefix: "svg:path" is a path. */
const nameOf = (raw: Raw): string => {
  const tag = Object.keys(raw).find((k) => k !== ':@') ?? '';
  return tag.slice(tag.indexOf(':') + 1);
};

function elementOf(raw: Raw): Element {
  const tag = Object.keys(raw).find((k) => k !== ':@')!;
  const inner = (Array.isArray(raw[tag]) ? raw[tag] : []) as Raw[];
  const attributes = Object.entries((raw[':@'] ?? {}) as Record<string, unknown>);
  return {
    name: nameOf(raw),
    attributes: new Map(
      attributes.map(([key, value]) => [key.replace(/^xlink:/, ''), String(value)]),
    ),
    children: inner.filter((n) => !('#text' in n)).map(elementOf),
    text: inner.flatMap((n) => ('#text' in n ? [String(n['#text'])] : [])).join(''),
  };
}
