import { times, type Affine } from '../geometry/affine.ts';
import type { Pdfjs } from './pdfjs.ts';

/** The matrix that a PDF's drawing operators act under, from the page's own units on (ISO 32000-1, 8.3.4 and 8.10.1). */
export class PdfMatrix {
  private readonly saved: Affine[] = [];

  constructor(
    private readonly OPS: Pdfjs['OPS'],
    /** To the frame that the reader wants. */
    public now: Affine,
  ) {}

  /** Follows an operator; true if it was one that bears on the matrix and on nothing else. */
  follow(fn: number, args: readonly unknown[]): boolean {
    const { OPS } = this;
    if (fn === OPS.save) this.saved.push(this.now);
    else if (fn === OPS.restore || fn === OPS.paintFormXObjectEnd)
      this.now = this.saved.pop() ?? this.now;
    else if (fn === OPS.transform) this.now = times(this.now, args as unknown as Affine);
    else if (fn === OPS.paintFormXObjectBegin) {
      this.saved.push(this.now);
      const [own] = args as [Affine | null];
      if (own) this.now = times(this.now, own);
    } else return false;
    return true;
  }
}
