/** Digests of plain data: equal data has equal digests, however it was made. */
import { type Hash, createHash } from 'node:crypto';
import { readFileSync, readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { join } from 'node:path';
import { built } from '../built.js';

/** SHA-256 of plain data: texts, numbers, lists, objects (keys in any order), typed arrays. */
export function digestOf(...values: readonly unknown[]): string {
  const hash = createHash('sha256');
  for (const value of values) add(hash, value);
  return hash.digest('hex');
}

function add(hash: Hash, value: unknown): void {
  if (ArrayBuffer.isView(value)) {
    // A Buffer is a Uint8Array of another name.
    const kind = value instanceof Uint8Array ? 'Uint8Array' : value.constructor.name;
    hash.update(`${kind}:${value.byteLength};`);
    hash.update(new Uint8Array(value.buffer, value.byteOffset, value.byteLength));
  } else if (Array.isArray(value)) {
    hash.update(`[${value.length};`);
    for (const v of value) add(hash, v);
  } else if (value && typeof value === 'object') {
    const entries = Object.entries(value).filter(([, v]) => v !== undefined);
    entries.sort(([a], [b]) => (a < b ? -1 : 1));
    hash.update(`{${entries.length};`);
    for (const [key, v] of entries) {
      hash.update(`${JSON.stringify(key)}:`);
      add(hash, v);
    }
  } else {
    const text = Object.is(value, -0)
      ? '-0'
      : typeof value === 'string'
        ? JSON.stringify(value)
        : String(value);
    hash.update(`${typeof value}:${text};`);
  }
}

/** Tells this build of the library from every other, so that no stage of other code is taken up. */
export function codeDigest(): string {
  const lib = fileURLToPath(built('../lib'));
  const files = readdirSync(lib, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.js'))
    .sort();
  const kernels = ['clipper2-wasm', 'earcut'].map((name) => versionOf(name));
  return digestOf(
    kernels,
    readFileSync(built('../vendor/manifold-3d/manifold.wasm')),
    files.map((name) => [name, readFileSync(join(lib, name))]),
  );
}

/** From the package itself, because not every package lets its package.json be imported. */
function versionOf(name: string): unknown {
  for (let at = new URL('.', built('.')); ; at = new URL('..', at)) {
    try {
      const text = readFileSync(new URL(`node_modules/${name}/package.json`, at), 'utf8');
      return (JSON.parse(text) as { version: unknown }).version;
    } catch (error) {
      if (at.pathname === '/') throw error;
    }
  }
}
