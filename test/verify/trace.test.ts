/**
 * The trace of a program: places and directions from the closed forms of the A-C chain, times from F,
 * volumes from the filament's section, and the kinds of blocks told by what the tip does.
 */
import { describe, expect, it } from 'vitest';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { type Trace, TraceKind, traceOf } from '../../lib/verify/trace.js';
import { acJson, machineOf } from '../machine/machines.js';

const AREA = (Math.PI / 4) * 1.75 ** 2;
const { deposit, link, transfer, wait } = TraceKind;

const LINES = [
  'G21 G90 G94',
  'G1 X0 Y0 Z0.2 A0 C0 F600', // place unknown before
  'X20 E1 F1200', // 20 mm in 1 s
  'E-1 F1800', // drawn back
  'Y10 F6000', // a link
  'E1 F1800', // primed
  'X0 E1 F1200',
  'Z30 F600', // away
  'G93 A30 F30', // 2 s
  'G94 G1 Z29 F600',
  'X10 E0.5 F600', // 1 s
  'G4 P0.5',
  'Z60 F6000',
  'M2',
];

function trace(): Trace {
  const machine = machineOf(acJson());
  const program = readProgram(LINES.join('\n'), readOptions(machine));
  return traceOf(program, machine);
}

describe('trace', () => {
  it('tells deposits, links, transfers and waits apart', () => {
    expect([...trace().kind]).toEqual([
      transfer,
      deposit,
      wait,
      link,
      wait,
      deposit,
      transfer,
      transfer,
      transfer,
      deposit,
      wait,
      transfer,
    ]);
    expect([...trace().line]).toEqual([2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13]);
  });

  it('begins a run where material is laid in another direction', () => {
    const t = trace();
    expect([...t.runStart]).toEqual([1, 9]);
    expect([...t.run]).toEqual([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1]);
  });

  it('counts what is drawn back and primed again once', () => {
    const t = trace();
    const laid = [0, 1, 0, 0, 0, 1, 0, 0, 0, 0.5, 0, 0];
    laid.forEach((mm, b) => expect(t.volume[b]).toBeCloseTo(mm * AREA, 9));
    // 20 mm at 1200 mm/min take 1 s.
    expect(t.flow[1]).toBeCloseTo(AREA, 9);
    expect(t.flow[4]).toBe(0);
  });

  it('stands where the chain puts the tip, in the part frame', () => {
    const t = trace();
    expect([...t.tip.subarray(3, 6)]).toEqual([20, 0, 0.2]);
    expect([...t.direction.subarray(3, 6)]).toEqual([0, 0, 1]);
    // The table turns by +A: p = Rx(-A) J, and the head's axis is (0, sin A, cos A).
    const [c, s] = [Math.cos(Math.PI / 6), Math.sin(Math.PI / 6)];
    const [x, y, z] = t.tip.subarray(27, 30);
    expect(x).toBeCloseTo(10, 9);
    expect(y).toBeCloseTo(10 * c + 29 * s, 9);
    expect(z).toBeCloseTo(-10 * s + 29 * c, 9);
    expect(t.direction[28]).toBeCloseTo(s, 9);
    expect(t.direction[29]).toBeCloseTo(c, 9);
    expect(t.time[1]! - t.time[0]!).toBeCloseTo(1, 9);
    expect(t.time[7]! - t.time[6]!).toBeCloseTo(2, 9);
  });
});
