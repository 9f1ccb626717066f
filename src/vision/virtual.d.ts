declare module 'virtual:opencv-glue' {
  export function create(module: {
    readonly instantiateWasm: (
      imports: WebAssembly.Imports,
      receive: (instance: WebAssembly.Instance, module: WebAssembly.Module) => void,
    ) => WebAssembly.Exports;
  }): typeof import('opencv-wasm').cv;
}
