/** What the read-back needs of pdf.js; the shells load the build that suits their engine and pass it in. */
export type Pdfjs = Pick<typeof import('pdfjs-dist'), 'getDocument' | 'OPS'>;
