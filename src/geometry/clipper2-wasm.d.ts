/** The package names a declaration file that it does not ship at that place; the right one is beside it. */
declare module 'clipper2-wasm' {
  export type { MainModule, PathsD } from 'clipper2-wasm/dist/clipper2z';
  import type { MainModule } from 'clipper2-wasm/dist/clipper2z';
  export default function load(options?: { locateFile(path: string): string }): Promise<MainModule>;
}
