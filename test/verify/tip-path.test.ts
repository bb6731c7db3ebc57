/**
 * The tip's path during one block: straight lines, arcs of a turning table and the lowest place over the
 * face, in closed form.
 */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { TipPath } from '../../lib/verify/tip-path.js';
import { acJson, machineOf } from '../machine/machines.js';

const machine = machineOf(acJson());
const rectangle = (() => {
  const json = acJson();
  json.table.face = { shape: 'rectangle', size: [40, 20] };
  return machineOf(json);
})();

function run(from: readonly number[], to: readonly number[], of = machine): TipPath {
  const path = new TipPath(of);
  path.stand(from, 0);
  path.run([...from, ...to], 0, 5);
  return path;
}

describe('a block', () => {
  it('of linear joints is a straight line', () => {
    const path = run([1, 2, 5, 0, 0], [4, 6, 17, 0, 0]);
    expect(path.length).toBeCloseTo(13, 9);
    expect([...path.tip]).toEqual([4, 6, 17]);
    expect([...path.direction]).toEqual([0, 0, 1]);
    expect(path.lowest).toBe(17);
  });

  it('in which the table turns is an arc, to 2e-5 of it', () => {
    const path = run([30, 0, 5, 0, 0], [30, 0, 5, 0, 90 * DEG]);
    expect(Math.abs(path.length / (15 * Math.PI) - 1)).toBeLessThan(2e-5);
    // C by +90 deg carries the part's -Y to +X.
    path.tip.forEach((v, c) => expect(v).toBeCloseTo([0, -30, 5][c]!, 9));
  });

  it('that dips in the middle of a turn is lowest there', () => {
    // z' = z cos A - y sin A with y = 10, z = 10: least where the angle passes.
    const path = run([0, 10, 10, 20 * DEG, 0], [0, 10, 10, 70 * DEG, 0]);
    expect(path.lowest).toBeCloseTo(10 * (Math.cos(70 * DEG) - Math.sin(70 * DEG)), 6);
    const dip = run([0, -10, -3, 10 * DEG, 0], [0, -10, -3, -60 * DEG, 0]);
    // -3 cos A + 10 sin A falls all the way to -60 deg.
    expect(dip.lowest).toBeCloseTo(-3 * Math.cos(60 * DEG) - 10 * Math.sin(60 * DEG), 6);
  });

  it('after it has stood or was lost has no length', () => {
    const path = run([0, 0, 5, 0, 0], [9, 0, 5, 0, 0]);
    path.stand([1, 1, 1, 0, 0], 0);
    expect([path.length, path.lowest]).toEqual([0, 1]);
    path.lose();
    expect([path.length, path.lowest]).toEqual([0, Infinity]);
    expect([...path.tip, ...path.direction]).toEqual(new Array(6).fill(NaN));
  });
});

describe('the face', () => {
  it.each([
    ['a disc of 100 mm', machine, 100, 0, true],
    ['a disc of 100 mm', machine, 71, 71, false],
    ['40 x 20 mm', rectangle, 20, 10, true],
    ['40 x 20 mm', rectangle, -20, -10, true],
    ['40 x 20 mm', rectangle, 20.1, 0, false],
    ['40 x 20 mm', rectangle, -20.1, 0, false],
    ['40 x 20 mm', rectangle, 0, 10.1, false],
    ['40 x 20 mm', rectangle, 0, -10.1, false],
  ])('%s', (_, of, x, y, over) => {
    const path = new TipPath(of);
    path.stand([x, y, -3, 0, 0], 0);
    expect(path.lowest).toBe(over ? -3 : Infinity);
  });
});
