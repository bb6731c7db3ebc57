/** The addresses at which a service is reached, for people and other machines to type in. */
import { networkInterfaces } from 'node:os';

/** Hosts that stand for every address of the machine. */
const EVERY: Readonly<Record<string, readonly string[]>> = {
  '0.0.0.0': ['IPv4'],
  '::': ['IPv4', 'IPv6'],
};

/** @param url where it listens, with the port that it got */
export function addressesOf(host: string, url: string): string[] {
  const families = EVERY[host];
  if (!families) return [url];
  const { port } = new URL(url);
  const all = Object.values(networkInterfaces()).flatMap((list) => list ?? []);
  return all
    .filter((a) => families.includes(a.family) && !a.address.startsWith('fe80:'))
    .sort((a, b) => Number(b.internal) - Number(a.internal))
    .map((a) => `http://${a.family === 'IPv6' ? `[${a.address}]` : a.address}:${port}`);
}
