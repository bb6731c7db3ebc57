/** One layer that is wrong in a solid box spelled by hand: found at its line, with the figure of the closed form. */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { verify } from '../../lib/verify/verify.js';
import { checkRules } from '../../lib/verify/rules.js';
import { FILAMENT, Pen, printer } from './prints.js';

/** Width and height of a bead, size of the box, mm. */
const [W, H] = [0.4, 0.2];
const [X, Y] = [12, 8];

function box(skip = -1): string[] {
  const pen = new Pen();
  pen.move([0, 0, 30]);
  pen.box([-X / 2, -Y / 2, 0], [X, Y, 3], W, H, skip);
  return pen.text().split('\n');
}

const sound = box();
const level = (k: number): string => `Z${(k * H).toFixed(4)}`;
/** Index of the first line of layer k, counted from one, and of the first after it. */
const span = (k: number): [number, number] => [
  sound.findIndex((l) => l.includes(level(k))),
  sound.findLastIndex((l) => l.includes(level(k))) + 1,
];
const errors = (lines: readonly string[], bounds = {}): Finding[] =>
  verify(lines.join('\n'), printer(), { bounds: checkRules.parse(bounds) }).check.findings.filter(
    (f) => f.severity === 'error' && !f.code.startsWith('verify/joint'),
  );
const times = (factor: number, [from, to]: readonly [number, number]): string[] =>
  sound.map((l, i) =>
    i >= from && i < to
      ? l.replace(/E(\S+)/, (_, e: string) => `E${(factor * Number(e)).toFixed(5)}`)
      : l,
  );

describe('a solid box', () => {
  it('has no error', () => {
    expect(errors(sound)).toEqual([]);
  });

  it.each([2, 1.3, 0.5])('one layer with %s times its filament', (factor) => {
    const at = span(8);
    const found = errors(times(factor, at)).filter((f) => f.code === 'verify/layer-flow');
    expect(found.map((f) => f.at!.line)).toEqual([at[0] + 2]);
    expect(found[0]!.message).toContain('run 1, layer 8 of 15: the level rises by 0.200 mm');
    // The filament fills the room between beads W apart to factor times the height of the layer.
    expect(found[0]!.message).toContain(`makes ${(factor * H).toFixed(3)} mm of height`);
  });

  it('one layer off by less than is allowed, and by more than a narrower bound allows', () => {
    const close = times(1.1, span(8));
    expect(errors(close)).toEqual([]);
    expect(errors(close, { layer: 0.08 }).map((f) => f.code)).toEqual(['verify/layer-flow']);
  });

  it('1.3 times the filament in all of it: said once, of the run', () => {
    const found = errors(times(1.3, [0, sound.length])).filter((f) => f.code === 'verify/run-flow');
    expect(found).toHaveLength(1);
    expect(found[0]!.message).toContain('the filament fills 1.30 of the room');
  });

  it('a layer left out: the level rises by two', () => {
    const lines = box(7);
    const first = lines.findIndex((l) => l.includes(level(9)) && l.includes('E')) + 1;
    const found = errors(lines).filter((f) => f.code === 'verify/level-step');
    expect(found.map((f) => f.at!.line)).toEqual([first]);
    expect(found[0]!.message).toContain('rises by 0.400 mm (usual here: 0.200 mm)');
    expect(found[0]!.message).toContain('2.0 layers in one step');
  });

  it.each([0.3, 0.12])(
    'all of it %s mm too high: the first bead has as much air under it',
    (by) => {
      const high = sound.map((l) =>
        l.replace(/Z(\S+)/, (_, z: string) => `Z${(Number(z) + by).toFixed(4)}`),
      );
      const found = errors(high).filter((f) => f.code === 'verify/first-on-table');
      expect(found.map((f) => f.at!.line)).toEqual([span(1)[0] + 2]);
      expect(found[0]!.message).toContain(`${by.toFixed(3)} mm of air are under it`);
    },
  );

  it('a layer laid again', () => {
    const [from, to] = span(8);
    const lines = [...sound.slice(0, to), ...sound.slice(from, to), ...sound.slice(to)];
    const found = errors(lines).filter((f) => f.code === 'verify/laid-twice');
    expect(found).toHaveLength(1);
    // X by Y of beads W apart, counted at marks 1.5 mm apart.
    expect(Number(/layer 8 of 15: (\S+) mm/.exec(found[0]!.message)![1])).toBeCloseTo(
      (X * Y) / W,
      -1,
    );
    expect(found[0]!.at!.line).toBeGreaterThan(to - 1);
  });

  it('more primed than was drawn back', () => {
    const at = span(8)[0];
    const lines = [...sound.slice(0, at), 'G1 E0.8 F1800', ...sound.slice(at)];
    const found = errors(lines);
    expect(found.map((f) => [f.code, f.at!.line])).toEqual([['verify/blob', at + 1]]);
    expect(found[0]!.message).toContain(`${(0.8 * FILAMENT).toFixed(2)} mm3`);
  });

  it('no filament from the middle on: the way goes round and nothing is fed', () => {
    const from = span(8)[0];
    const dry = sound.map((l, i) => (i >= from ? l.replace(/ E\S+/, '') : l));
    const [first] = errors(dry);
    expect([first!.code, first!.at!.line]).toEqual(['verify/dry', from + 1]);
    // Layers 8 to 15.
    expect(first!.message).toContain('8 levels and no filament is fed');
  });

  it('a block with twenty times its filament: a bead that no nozzle spreads', () => {
    const at = span(8)[0] + 1;
    const lines = times(20, [at, at + 1]);
    expect(errors(lines).map((f) => [f.code, f.at!.line])).toContainEqual([
      'verify/bead-wide',
      at + 1,
    ]);
  });
});
