/** Bytes changed at random, for tests of what becomes of broken files. */

/** One to four changes: bytes overwritten, a stretch cut out, doubled or moved, the end cut off. */
export function changed(bytes: Uint8Array, random: () => number): Uint8Array {
  let out = [...bytes];
  const place = (): number => Math.floor(random() * out.length);
  for (let k = 1 + Math.floor(random() * 4); k > 0; k--) {
    const at = place();
    const size = Math.floor(random() ** 3 * Math.min(200, out.length));
    const what = Math.floor(random() * 6);
    if (what === 0) out[at] = Math.floor(random() * 256);
    else if (what === 1) out[at] = out[at]! ^ (1 << Math.floor(random() * 8));
    else if (what === 2) out.splice(at, size);
    else if (what === 3) out.splice(at, 0, ...out.slice(at, at + size));
    else if (what === 4) out.splice(place(), 0, ...out.splice(at, size));
    else out = out.slice(0, at);
  }
  return Uint8Array.from(out);
}
