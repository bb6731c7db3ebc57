/** Reach and head room against closed forms derived beside each check. */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { headRadius, leastTipHeight } from '../../lib/machine/head.js';
import { canReach, directionAtTilt, reachOf } from '../../lib/machine/reachable-directions.js';
import { type Json, acJson, headTableJson, machineOf, rotary } from './machines.js';

const withTable = (joints: Json['table']['joints']): ReturnType<typeof machineOf> => {
  const json = acJson();
  return machineOf({ ...json, table: { ...json.table, joints } });
};

describe('reach', () => {
  it('a tilt of 120 deg and endless turning reach the whole cap', () => {
    const reach = reachOf(machineOf(acJson()));
    expect(reach.everyTilt / DEG).toBeCloseTo(120, 6);
    expect(reach.greatestTilt / DEG).toBeCloseTo(120, 6);
  });
  it('a one-sided tilt still reaches every azimuth if C turns round', () => {
    const machine = withTable([
      rotary('A', [1, 0, 0], [-5, 70]),
      rotary('C', [0, 0, 1], [-180, 180]),
    ]);
    expect(reachOf(machine).everyTilt / DEG).toBeCloseTo(70, 6);
  });
  it('C from 0 to 90 deg and A from 0 to 60: one quarter of azimuths', () => {
    // k = (sin A sin C, sin A cos C, cos A): C = 0 is azimuth 90 deg, C = 90 azimuth 0.
    const machine = withTable([rotary('A', [1, 0, 0], [0, 60]), rotary('C', [0, 0, 1], [0, 90])]);
    const reaches = (tilt: number, azimuth: number): boolean =>
      canReach(machine, directionAtTilt(tilt * DEG, azimuth * DEG));
    for (const azimuth of [0.001, 1, 45, 89, 89.999]) expect(reaches(30, azimuth)).toBe(true);
    for (const azimuth of [-0.001, 90.001, 91, 180, 270]) expect(reaches(30, azimuth)).toBe(false);
    const reach = reachOf(machine);
    expect(reach.everyTilt / DEG).toBeLessThan(1e-3);
    expect(reach.greatestTilt / DEG).toBeCloseTo(60, 6);
    for (let azimuth = 0; azimuth < 360; azimuth++) expect(reaches(61, azimuth)).toBe(false);
  });
  it('a tilting head over a turning table: 100 deg either side', () => {
    const machine = machineOf(headTableJson());
    expect(canReach(machine, directionAtTilt(99.9 * DEG, 1))).toBe(true);
    expect(canReach(machine, directionAtTilt(100.1 * DEG, 1))).toBe(false);
  });
});

describe('room for the head over the table', () => {
  const json = acJson();
  const head = (stack: Json['head']['stack'], boxes: Json['head']['boxes'] = []) =>
    machineOf({ ...json, clearance: 1, head: { ...json.head, stack, boxes } });

  it('upright it needs none', () => {
    expect(leastTipHeight(machineOf(json), 0)).toBe(0);
  });
  it('a disc of radius 20 at 10 mm above the tip, tilted 45 deg: 1 + (20 - 10) / sqrt 2', () => {
    const machine = head([
      { above: 0, radius: 0 },
      { above: 10, radius: 0 },
      { above: 10, radius: 20 },
    ]);
    expect(leastTipHeight(machine, 45 * DEG)).toBeCloseTo(1 + 10 * Math.SQRT1_2, 12);
    expect(headRadius(machine, 10)).toBe(20);
    expect(headRadius(machine, 5)).toBe(0);
  });
  it('a cone of half angle 30 deg lies on the table at tilt 60: its clearance alone', () => {
    // Every point of the cone keeps z + s cos 60 - s tan 30 sin 60 = z above the table.
    const machine = head([
      { above: 0, radius: 0 },
      { above: 30, radius: 30 * Math.tan(30 * DEG) },
    ]);
    expect(leastTipHeight(machine, 60 * DEG)).toBeCloseTo(1, 12);
  });
  it('lying on its side it needs radius and clearance', () => {
    const machine = head([
      { above: 0, radius: 0 },
      { above: 30, radius: 12 },
    ]);
    expect(leastTipHeight(machine, 90 * DEG)).toBeCloseTo(13, 12);
  });
  it('a box counts by its farthest corner: 3-4-5', () => {
    const machine = head(
      [
        { above: 0, radius: 0 },
        { above: 30, radius: 1 },
      ],
      [{ shape: 'box', from: [-30, -1, 20], to: [2, 40, 35] }],
    );
    expect(headRadius(machine, 25)).toBe(50);
    expect(leastTipHeight(machine, 90 * DEG)).toBeCloseTo(51, 12);
  });
});
