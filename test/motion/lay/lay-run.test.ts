/**
 * The blocks of a run: in which order the tip is led where, with how much filament and at what speed, taken down by a
 * mover that only keeps account.
 */
import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../../lib/base/vector.js';
import { BlockList, NO_PATH, type Tag } from '../../../lib/motion/lay/blocks.js';
import { Feeder, type RunInput, layRun, turnAt, wipe } from '../../../lib/motion/lay/lay-run.js';
import type { HeadTurn } from '../../../lib/motion/lay/head-turn.js';
import type { Mover, SheetRun } from '../../../lib/motion/lay/mover.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { motionRules } from '../../../lib/motion/rules.js';
import { Link, PathKind, type Paths } from '../../../lib/paths/paths.js';

interface Call {
  readonly at: Vec3;
  readonly section: number;
  readonly perLength: number;
  readonly tag: Tag;
  readonly turn: HeadTurn | undefined;
}

/** Takes down where the tip is led, and among it when filament is drawn back and primed. */
function account(): { calls: (Call | number)[]; mover: Mover; feeder: Feeder } {
  const calls: (Call | number)[] = [];
  const mover: Mover = {
    to: (x, y, z, section, perLength, tag, turn) => {
      calls.push({ at: [x, y, z], section, perLength, tag, turn });
    },
    jointsAt: () => new Float64Array(5),
  };
  const blocks = {
    now: new Float64Array(5),
    push: (_: unknown, __: number, ___: number, filament: number) => calls.push(filament),
  } as unknown as BlockList;
  return { calls, mover, feeder: new Feeder(blocks, { length: 1.5, speed: 25 }) };
}

/** Paths through points, each of beads .45 x .2 mm. */
function pathsOf(
  lines: readonly (readonly Vec3[])[],
  change: Partial<Paths> & { via?: readonly (readonly Vec3[])[] } = {},
): Paths {
  const { via = [], ...rest } = change;
  const points = lines.flat();
  const start = [0];
  for (const line of lines) start.push(start.at(-1)! + line.length);
  const linkStart = [0];
  lines.forEach((_, i) => linkStart.push(linkStart.at(-1)! + (via[i]?.length ?? 0)));
  return {
    points: Float64Array.from(points.flat()),
    width: new Float64Array(points.length).fill(0.45),
    height: new Float64Array(points.length).fill(0.2),
    start: Uint32Array.from(start),
    kind: new Uint8Array(lines.length).fill(PathKind.fill),
    layer: new Uint32Array(lines.length),
    flowFactor: new Float64Array(lines.length).fill(1),
    link: new Uint8Array(lines.length).fill(Link.lifted),
    linkPoints: Float64Array.from(via.flat(2)),
    linkStart: Uint32Array.from(linkStart),
    ...rest,
  };
}

const run = (paths: Paths, change: Partial<RunInput> = {}): RunInput => ({
  region: 3,
  paths,
  from: 0,
  to: paths.kind.length,
  rules: motionRules.parse({ lift: 0.6, wipe: 2 }),
  filamentDiameter: 1.75,
  speedLimit: () => Infinity,
  skyline: { least: () => -Infinity } as unknown as RunInput['skyline'],
  ...change,
});

/** Curved layers whose joints have these values, in pairs; their links do nothing unless they are told to. */
function sheets(
  pairs: readonly number[],
  {
    link = () => [],
    begin = () => {},
    by = () => {},
    mustLift = () => false,
  }: Partial<Pick<SheetRun, 'link' | 'begin' | 'mustLift'> & Pick<SheetRun['mover'], 'by'>> = {},
): SheetRun {
  const turns = { first: 0, pairs: Float64Array.from(pairs), unreachable: -1, turnedBack: 0 };
  return { turns, link, begin, mustLift, mover: { by } as unknown as SheetRun['mover'] };
}

function laid(input: RunInput): (Call | number)[] {
  const { calls, mover, feeder } = account();
  layRun(input, mover, feeder);
  return calls;
}

const placesOf = (calls: readonly (Call | number)[]): (Vec3 | number)[] =>
  calls.map((c) => (typeof c === 'number' ? c : c.at));
const kindsOf = (calls: readonly (Call | number)[]): (MoveKind | 'feed')[] =>
  calls.map((c) => (typeof c === 'number' ? 'feed' : c.tag.kind));

const first: Vec3[] = [
  [0, 0, 0.2],
  [10, 0, 0.2],
  [10, 5, 0.2],
];
const second: Vec3[] = [
  [20, 5, 0.2],
  [20, 9, 0.2],
];

describe('paths', () => {
  it('are laid point by point, the first of each only gone to', () => {
    const calls = laid(run(pathsOf([first])));
    expect(placesOf(calls)).toEqual(first);
    const { link, deposit } = MoveKind;
    expect(kindsOf(calls)).toEqual([link, deposit, deposit]);
    const [start, bead] = calls as Call[];
    expect(start).toMatchObject({ section: 0, perLength: 0 });
    // A stadium of .45 x .2 mm; .0338488 mm of 1.75 mm filament for each mm of it.
    expect(bead!.section).toBeCloseTo(0.0814159, 7);
    expect(bead!.perLength).toBeCloseTo(0.0338488, 7);
    expect(bead!.tag).toEqual({
      kind: deposit,
      region: 3,
      layer: 0,
      pathKind: PathKind.fill,
      speed: 60,
    });
    expect(start!.tag).toEqual({ kind: link, region: 3, layer: 0, pathKind: NO_PATH, speed: 120 });
  });

  it('with the section at each point, times the flow of the path', () => {
    const width = Float64Array.of(0.45, 0.4, 0.6);
    const height = Float64Array.of(0.2, 0.2, 0.3);
    const calls = laid(run(pathsOf([first], { width, height, flowFactor: Float64Array.of(0.9) })));
    const sections = (calls as Call[]).map((c) => c.section);
    // (w - h) h + pi h^2 / 4.
    expect(sections[1]).toBeCloseTo(0.9 * 0.0714159, 7);
    expect(sections[2]).toBeCloseTo(0.9 * 0.1606858, 7);
  });

  it.each([
    [PathKind.contour, 35],
    [PathKind.innerContour, 50],
    [PathKind.thin, 30],
    [PathKind.cap, 45],
    [PathKind.fill, 60],
    [PathKind.brim, 30],
  ])('of kind %d at %d mm/s, or as fast as the layer allows', (kind, speed) => {
    const paths = pathsOf([first], { kind: Uint8Array.of(kind), layer: Uint32Array.of(7) });
    const speeds = (limit: (layer: number) => number): number[] =>
      (laid(run(paths, { speedLimit: limit })) as Call[]).slice(1).map((c) => c.tag.speed);
    expect(speeds(() => Infinity)).toEqual([speed, speed]);
    expect(speeds((layer) => (layer === 7 ? 20 : 1))).toEqual([20, 20]);
  });

  it('end where they end: what all but coincides with the end is left out', () => {
    const crowded: Vec3[] = [...first, [10, 5.0005, 0.2], [10, 5.001, 0.2], [10, 5.0015, 0.2]];
    expect(placesOf(laid(run(pathsOf([crowded]))))).toEqual([...first.slice(0, 2), crowded.at(-1)]);
    const short: Vec3[] = [
      [0, 0, 0.2],
      [0.001, 0, 0.2],
    ];
    expect(placesOf(laid(run(pathsOf([short]))))).toEqual(short);
  });

  it('only those that are asked for', () => {
    const calls = laid(run(pathsOf([first, second, first]), { from: 1, to: 2 }));
    expect(placesOf(calls)).toEqual(second);
  });
});

describe('links', () => {
  it('over the layer rise, go across and come down, filament drawn back all the while', () => {
    const calls = laid(run(pathsOf([first, second])));
    expect(placesOf(calls)).toEqual([
      ...first,
      -1.5,
      [10, 5, 0.2 + 0.6],
      [20, 5, 0.2 + 0.6],
      [20, 5, 0.2],
      1.5,
      [20, 9, 0.2],
    ]);
    const { link, deposit } = MoveKind;
    expect(kindsOf(calls).slice(3)).toEqual(['feed', link, link, link, 'feed', deposit]);
  });

  it('rise from the higher of both ends, and over what stands between', () => {
    const higher = second.map(([x, y]): Vec3 => [x, y, 0.5]);
    const asked: unknown[] = [];
    const skyline = {
      least: (...of: unknown[]) => {
        asked.push(of);
        return 4;
      },
    } as unknown as RunInput['skyline'];
    const paths = pathsOf([first, higher]);
    expect(placesOf(laid(run(paths))).slice(4, 6)).toEqual([
      [10, 5, 1.1],
      [20, 5, 1.1],
    ]);
    expect(placesOf(laid(run(paths, { skyline }))).slice(4, 6)).toEqual([
      [10, 5, 4],
      [20, 5, 4],
    ]);
    expect(asked).toEqual([[10, 5, 20, 5, 1.1]]);
  });

  it('inside go through their own points, and nothing is drawn back', () => {
    const via: Vec3[] = [
      [12, 5, 0.2],
      [14, 6, 0.2],
    ];
    const link = Uint8Array.of(Link.lifted, Link.inside, Link.inside);
    const paths = pathsOf([first, second, first], { link, via: [[], via, []] });
    const calls = laid(run(paths));
    expect(placesOf(calls)).toEqual([...first, ...via, ...second, ...first]);
    expect(kindsOf(calls).slice(3, 6)).toEqual(Array(3).fill(MoveKind.link));
  });

  it('of curved layers go where they are told to, from end to end with growth and joints', () => {
    const directions = Float64Array.from(
      [
        [0, 0, 1],
        [0, 0, 1],
        [1, 0, 0],
        [0, 1, 0],
        [0, 0, 1],
      ].flat(),
    );
    const asked: unknown[] = [];
    const knots = [Float64Array.of(1, 2, 3, 4, 5)];
    const gone: unknown[] = [];
    const input = run(pathsOf([first, second], { directions }), {
      sheets: sheets(
        Array.from({ length: 10 }, (_, i) => i),
        {
          link: (...ends) => {
            asked.push(ends);
            return knots;
          },
          by: (...of) => gone.push(of),
        },
      ),
    });
    const calls = laid(input);
    expect(placesOf(calls)).toEqual([...first, -1.5, second[0], 1.5, second[1]]);
    expect(asked).toEqual([
      [
        1,
        { tip: [10, 5, 0.2], up: [1, 0, 0], turn: [4, 5] },
        { tip: [20, 5, 0.2], up: [0, 1, 0], turn: [6, 7] },
      ],
    ]);
    expect(gone).toEqual([[knots, [6, 7], expect.objectContaining({ kind: MoveKind.link })]]);
    // Values of the joints at every point.
    const told = calls.filter((c): c is Call => typeof c !== 'number').map((c) => c.turn);
    expect(told).toEqual([
      [0, 1],
      [2, 3],
      [4, 5],
      [6, 7],
      [8, 9],
    ]);
  });

  it('inside of curved layers are left like others where the head would swing away', () => {
    const directions = Float64Array.from(Array(5).fill([0, 0, 1]).flat());
    const link = Uint8Array.of(Link.lifted, Link.inside);
    const paths = pathsOf([first, second], { link, directions, via: [[], [[12, 5, 0.2]]] });
    const drawn = [true, false].map((swung) => {
      const told = sheets(Array(10).fill(0), { mustLift: () => swung });
      return laid(run(paths, { sheets: told })).filter((c) => typeof c === 'number').length;
    });
    expect(drawn).toEqual([2, 0]);
  });

  it('of curved layers are told of before their first block', () => {
    const begun: number[] = [];
    const input = run(pathsOf([first, second, first]), {
      from: 1,
      sheets: sheets(Array(16).fill(0), { begin: (path) => begun.push(path) }),
    });
    laid(input);
    expect(begun).toEqual([1, 2]);
  });

  it('inside of curved layers turn in even shares from end to end', () => {
    const via: Vec3[] = [
      [12, 5, 0.2],
      [14, 6, 0.2],
    ];
    const paths = pathsOf([first, second], {
      link: Uint8Array.of(Link.lifted, Link.inside),
      via: [[], via],
    });
    const calls = laid(run(paths, { sheets: sheets([0, 0, 0, 0, 3, 6, 6, 12, 6, 12]) })) as Call[];
    expect(calls.slice(3, 6).map((c) => c.turn)).toEqual([
      [4, 8],
      [5, 10],
      [6, 12],
    ]);
  });
});

it('values of the joints are found by the point, from the first one of the run', () => {
  const turned = sheets([1, 2, 3, 4]);
  expect(turnAt({ sheets: { ...turned, turns: { ...turned.turns, first: 5 } } }, 6)).toEqual([
    3, 4,
  ]);
  expect(turnAt({}, 6)).toBeUndefined();
});

describe('filament', () => {
  const list = new BlockList(new Float64Array(5));
  const feeder = new Feeder(list, { length: 1.5, speed: 25 });
  it('is drawn back and primed by turns, once each', () => {
    feeder.prime(1, 2);
    feeder.draw(1, 2);
    feeder.draw(1, 3);
    feeder.prime(2, 4);
    feeder.prime(2, 4);
    const { filament, kind, region, layer, speed, length: far, pathKind } = list.take();
    expect([...filament]).toEqual([-1.5, 1.5]);
    expect([...kind]).toEqual([MoveKind.filament, MoveKind.filament]);
    expect([[...region], [...layer], [...speed], [...far]]).toEqual([
      [1, 2],
      [2, 4],
      [25, 25],
      [0, 0],
    ]);
    expect([...pathKind]).toEqual([NO_PATH, NO_PATH]);
  });
  it('without a length makes no block', () => {
    const none = new BlockList(new Float64Array(5));
    const still = new Feeder(none, { length: 0, speed: 25 });
    still.draw(0, 0);
    still.prime(0, 0);
    expect(none.count).toBe(0);
  });
});

describe('the wipe', () => {
  const wiped = (far: number, change: Partial<RunInput> = {}): Call[] => {
    const { calls, mover } = account();
    const rules = motionRules.parse({ wipe: far });
    wipe(run(pathsOf([second, first]), { rules, ...change }), mover);
    return calls as Call[];
  };
  const near = (...p: number[]): unknown[] => p.map((x): unknown => expect.closeTo(x, 9));

  it('goes back over the last path as far as it is told, and no farther than it began', () => {
    expect(placesOf(wiped(2))).toEqual([near(10, 3, 0.2)]);
    expect(placesOf(wiped(5))).toEqual([near(10, 0, 0.2)]);
    expect(placesOf(wiped(8))).toEqual([near(10, 0, 0.2), near(7, 0, 0.2)]);
    expect(placesOf(wiped(80))).toEqual([near(10, 0, 0.2), near(0, 0, 0.2)]);
    expect(wiped(0)).toEqual([]);
    expect(wiped(2)[0]).toMatchObject({ section: 0, perLength: 0, tag: { kind: MoveKind.link } });
  });

  it('passes over points that stand twice, and turns as the path did', () => {
    const { calls, mover } = account();
    const turning = sheets([0, 0, 10, 4, 20, 0, 20, 0]);
    const paths = pathsOf([[...first, [10, 5, 0.2]]]);
    wipe(run(paths, { sheets: turning, rules: motionRules.parse({ wipe: 7 }) }), mover);
    expect(placesOf(calls)).toEqual([near(10, 0, 0.2), near(8, 0, 0.2)]);
    // All of 20 -> 10 and 0 -> 4, then a fifth of 10 -> 0 and 4 -> 0.
    expect((calls as Call[]).map((c) => c.turn)).toEqual([near(10, 4), near(8, 3.2)]);
  });
});
