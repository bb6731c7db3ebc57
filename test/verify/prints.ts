/**
 * Programs for tests of the print in the computer, spelled here by hand and not by the writer: beads
 * along given ways, drawn by a pen that meters what a bead of the asked width and height takes.
 */
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { acJson, machineOf } from '../machine/machines.js';
import type { Machine } from '../../lib/machine/machine.js';

export const FILAMENT = (Math.PI / 4) * 1.75 ** 2;

/** A-C machine (table turns by +A about X and +C about Z through the origin); heats with M101 P. */
export function printer(change: (json: ReturnType<typeof acJson>) => void = () => {}): Machine {
  const json = acJson();
  json.dialect.start = ['M101 P{nozzleTemperature}'];
  change(json);
  return machineOf(json);
}

/** Writes blocks; places are of the part, turned into joint values by the closed form of the chain. */
export class Pen {
  readonly lines: string[] = ['M101 P210', 'G21 G90 G94', 'G1 X0 Y0 Z60 A0 C0 F3000'];
  #a = 0;
  #c = 0;
  #at: Vec3 = [0, 0, 0];

  /** Number of the last line, from one. */
  get line(): number {
    return this.lines.length;
  }

  /** Turns the table, the tip keeping its joints. */
  turn(a: number, c: number): void {
    this.#a = a;
    this.#c = c;
    this.lines.push(`G93 G1 A${a.toFixed(4)} C${c.toFixed(4)} F20`, 'G94');
  }

  /** J = Rx(A) Rz(C) p (checks.md gives the same chain with r and d zero). */
  joints(p: Vec3): string {
    const [a, c] = [this.#a * DEG, this.#c * DEG];
    const x = p[0] * Math.cos(c) - p[1] * Math.sin(c);
    const y = p[0] * Math.sin(c) + p[1] * Math.cos(c);
    const j = [x, y * Math.cos(a) - p[2] * Math.sin(a), y * Math.sin(a) + p[2] * Math.cos(a)];
    return j.map((v, i) => 'XYZ'[i]! + v.toFixed(4)).join(' ');
  }

  /** Moves without material. */
  move(p: Vec3): void {
    this.lines.push(`G1 ${this.joints(p)} F6000`);
    this.#at = p;
  }

  /** Lays a bead of section width x height. */
  lay(p: Vec3, width: number, height: number): void {
    const way = Math.hypot(p[0] - this.#at[0], p[1] - this.#at[1], p[2] - this.#at[2]);
    const e = (way * width * height) / FILAMENT;
    this.lines.push(`G1 ${this.joints(p)} E${e.toFixed(5)} F1800`);
    this.#at = p;
  }

  /** A solid box of beads side by side, in layers whose beads run along X and along Y in turn. */
  box(least: Vec3, size: Vec3, width: number, height: number, skip = -1): void {
    const layers = Math.round(size[2] / height);
    for (let k = 0; k < layers; k++) {
      if (k === skip) continue;
      const z = least[2] + (k + 1) * height;
      const alongX = k % 2 === 0;
      const [run, across] = alongX ? [size[0], size[1]] : [size[1], size[0]];
      const beads = Math.round(across / width);
      for (let i = 0; i < beads; i++) {
        const off = (i + 0.5) * width;
        const [from, to] = i % 2 === 0 ? [0, run] : [run, 0];
        const at = (s: number): Vec3 =>
          alongX ? [least[0] + s, least[1] + off, z] : [least[0] + off, least[1] + s, z];
        this.move(at(from));
        this.lay(at(to), width, height);
      }
    }
  }

  text(): string {
    return [...this.lines, 'M2', ''].join('\n');
  }
}
