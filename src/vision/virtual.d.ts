declare module 'virtual:opencv-glue' {
  export function create(module: { wasmBinary: ArrayBuffer }): typeof import('opencv-wasm').cv;
}
