/**
 * Loading of the WASM packages, which lie beside this package: the one place where lib touches files.
 */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);

/** The CommonJS or UMD module of a package. */
export const moduleOf = (specifier: string): unknown => require(specifier);

/** The bytes of a file of a package, such as `clipper2-wasm/dist/umd/clipper2z.wasm`. */
export const bytesOf = (specifier: string): Uint8Array<ArrayBuffer> =>
  new Uint8Array(readFileSync(require.resolve(specifier)));
