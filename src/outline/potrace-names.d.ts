declare module 'potrace/lib/types/Bitmap.js' {
  export default class Bitmap {
    constructor(width: number, height: number);
    data: Uint8Array;
  }
}
declare module 'potrace/lib/Potrace.js' {
  import type Bitmap from 'potrace/lib/types/Bitmap.js';
  interface Curve {
    readonly n: number;
    readonly tag: readonly ('CORNER' | 'CURVE')[];
    readonly c: readonly ({ readonly x: number; readonly y: number } | undefined)[];
  }
  export default class Potrace {
    constructor(options: Record<string, unknown>);
    _luminanceData: Bitmap;
    _imageLoaded: boolean;
    _bmToPathlist(): void;
    _processPath(): void;
    readonly _pathlist: readonly { readonly curve: Curve }[];
  }
}
