/** Builds the Paths record from beads in laying order. */
import { float64List, uint8List, uint32List } from '../base/ragged.js';
import { type Bead, widthAt } from './layer-bead.js';
import type { Link, Paths } from './paths.js';

export interface PathList {
  add(bead: Bead, at: PathPlace): void;
  take(): Paths;
}

export interface PathPlace {
  readonly layer: number;
  /** Height of the nozzle tip and of the bead, mm. */
  readonly z: number;
  readonly height: number;
  readonly flowFactor: number;
  readonly link: (typeof Link)[keyof typeof Link];
  /** Packed x, y. */
  readonly way: Float64Array;
}

export function pathList(): PathList {
  const points = float64List(4096);
  const width = float64List(2048);
  const height = float64List(2048);
  const start = uint32List();
  const kind = uint8List();
  const layer = uint32List();
  const flowFactor = float64List();
  const link = uint8List();
  const linkPoints = float64List();
  const linkStart = uint32List();
  start.push(0);
  linkStart.push(0);
  return {
    add(bead, at) {
      const n = bead.xy.length / 2;
      const count = bead.closed ? n + 1 : n;
      for (let i = 0; i < count; i++) {
        const j = i < n ? i : 0;
        points.push3(bead.xy[2 * j]!, bead.xy[2 * j + 1]!, at.z);
        width.push(widthAt(bead, j));
        height.push(at.height);
      }
      start.push(start.at(start.length - 1) + count);
      kind.push(bead.kind);
      layer.push(at.layer);
      flowFactor.push(at.flowFactor * bead.flow);
      link.push(at.link);
      for (let i = 0; i < at.way.length; i += 2) {
        linkPoints.push3(at.way[i]!, at.way[i + 1]!, at.z);
      }
      linkStart.push(linkPoints.length / 3);
    },
    take: () => ({
      points: points.take(),
      width: width.take(),
      height: height.take(),
      start: start.take(),
      kind: kind.take(),
      layer: layer.take(),
      flowFactor: flowFactor.take(),
      link: link.take(),
      linkPoints: linkPoints.take(),
      linkStart: linkStart.take(),
    }),
  };
}

/** Paths one after the other, as if they had been planned together. */
export function joinedPaths(list: readonly Paths[]): Paths {
  const joined = (of: (p: Paths) => Float64Array): Float64Array => {
    const out = new Float64Array(list.reduce((n, p) => n + of(p).length, 0));
    list.reduce((at, p) => (out.set(of(p), at), at + of(p).length), 0);
    return out;
  };
  const all = (name: 'points' | 'width' | 'height' | 'flowFactor' | 'linkPoints'): Float64Array =>
    joined((p) => p[name]);
  const turns = list.some((p) => p.directions);
  const bytes = (name: 'kind' | 'link'): Uint8Array => {
    const out = new Uint8Array(list.reduce((n, p) => n + p[name].length, 0));
    list.reduce((at, p) => (out.set(p[name], at), at + p[name].length), 0);
    return out;
  };
  const offsets = (name: 'start' | 'linkStart'): Uint32Array => {
    const out = new Uint32Array(list.reduce((n, p) => n + p[name].length - 1, 1));
    let row = 0;
    for (const p of list) {
      const base = out[row]!;
      for (let i = 1; i < p[name].length; i++) out[++row] = base + p[name][i]!;
    }
    return out;
  };
  const layer = new Uint32Array(list.reduce((n, p) => n + p.layer.length, 0));
  list.reduce((at, p) => (layer.set(p.layer, at), at + p.layer.length), 0);
  return {
    points: all('points'),
    width: all('width'),
    height: all('height'),
    start: offsets('start'),
    kind: bytes('kind'),
    layer,
    flowFactor: all('flowFactor'),
    link: bytes('link'),
    linkPoints: all('linkPoints'),
    linkStart: offsets('linkStart'),
    ...(turns && { directions: joined((p) => p.directions!) }),
  };
}
