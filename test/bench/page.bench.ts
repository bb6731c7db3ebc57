/**
 * The page of a program of a million blocks: its size against 16-bit places deflated as they are, and
 * pictures a second while the view turns, in the system's chromium with whatever draws there. Wanted
 * are 30 a second where a graphics card draws; software manages a few.
 */
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { zlibSync } from 'fflate';
import { chromium } from 'playwright-core';
import type { Machine } from '../../lib/machine/machine.js';
import { makePage } from '../../lib/page/data/page.js';
import { type Trace, traceOf } from '../../lib/verify/trace.js';
import { browserPath } from '../support/browser.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid } from '../support/shapes.js';
import type { Row } from './bench.js';

const BLOCKS = 1_000_000;
/** Blocks around the wall in a layer, and its height, mm. */
const AROUND = 2000;
const HIGH = 0.2;

export async function run(): Promise<Row[]> {
  const folder = mkdtempSync(join(tmpdir(), 'tiltwright-bench-'));
  try {
    const { rows, file } = await sizes(folder);
    return [...rows, ...(await pictures(file))];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

async function sizes(folder: string): Promise<{ rows: Row[]; file: string }> {
  const input = jobOf(cuboid([40, 40, 10]), 'table-table-ac', {});
  const { report, plan, map } = await runJob(input);
  const trace = wavyWall(input.machine);
  const template = readFileSync('dist/page/page.html', 'utf8');
  const page = makePage(template, {
    report,
    machine: input.machine,
    regions: plan.regions,
    trace,
    time: trace.time,
    map: map!,
  });
  const file = join(folder, 'report.html');
  writeFileSync(file, page.join(''));
  const plain = (zlibSync(plainPlaces(trace)).length * 4) / 3 / 1e6;
  const packed = page[1]!.length / 1e6;
  const whole = statSync(file).size / 1e6;
  return {
    file,
    rows: [
      {
        name: 'page of a million blocks, all columns against 16-bit places alone, MB',
        a: packed,
        b: plain,
        ratio: plain / packed,
        want: {},
      },
      { name: 'its file against 25 MB', a: whole, b: 25, ratio: 25 / whole, want: { least: 1 } },
    ],
  };
}

/** A round wall whose radius waves, at the decimals of a program. */
function wavyWall(machine: Machine): Trace {
  const n = machine.joints.length;
  const joints = new Float64Array(n * BLOCKS);
  const at = (letter: string): number => machine.joints.findIndex((j) => j.letter === letter);
  const [x, y, z] = [at('X'), at('Y'), at('Z')];
  const rounded = (v: number): number => Math.round(v * 1e4) / 1e4;
  for (let b = 0; b < BLOCKS; b++) {
    const a = (2 * Math.PI * b) / AROUND;
    const r = 20 + 4 * Math.sin(7 * a) + 2 * Math.sin(b / 90_000);
    joints[b * n + x] = rounded(r * Math.cos(a));
    joints[b * n + y] = rounded(r * Math.sin(a));
    joints[b * n + z] = rounded(HIGH * (1 + Math.floor(b / AROUND)));
  }
  const program = {
    jointCount: n,
    from: new Float64Array(n),
    joints,
    seconds: new Float64Array(BLOCKS),
    filament: new Float64Array(BLOCKS),
    line: Uint32Array.from({ length: BLOCKS }, (_, b) => b + 40),
    flags: new Uint8Array(BLOCKS),
    raised: [],
    own: [],
    end: 'M2',
    lines: BLOCKS + 41,
    unitsStated: true,
  } as const;
  for (let b = 0; b < BLOCKS; b++) {
    const i = b * n;
    const long = b
      ? Math.hypot(joints[i + x]! - joints[i - n + x]!, joints[i + y]! - joints[i - n + y]!)
      : 1;
    program.seconds[b] = Math.round((long / 45) * 1e6) / 1e6;
    program.filament[b] = Math.round(long * 0.0338 * 1e5) / 1e5;
  }
  return traceOf(program, machine);
}

function plainPlaces({ tip }: Trace): Uint8Array {
  const places = Int16Array.from(tip, (v) => Math.round((v / 220) * 65535));
  return new Uint8Array(places.buffer);
}

/** Seconds over which pictures are counted. */
const LASTS = 6;

async function pictures(file: string): Promise<Row[]> {
  if (!browserPath) {
    console.error('no chromium: pictures a second are not counted');
    return [];
  }
  const browser = await chromium.launch({
    executablePath: browserPath,
    args: ['--no-sandbox', '--ignore-gpu-blocklist', '--enable-unsafe-swiftshader'],
  });
  try {
    const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
    page.setDefaultTimeout(300_000);
    const began = performance.now();
    await page.goto(`file://${file}`);
    await page.waitForSelector('main:not([hidden])');
    const opened = (performance.now() - began) / 1000;
    const [rate, drawnBy] = await page.evaluate<[number, string]>(TURN);
    console.log(`page of a million blocks: open after ${opened.toFixed(1)} s; drawn by ${drawnBy}`);
    return [
      {
        name: 'pictures a second of a million blocks, turning; wanted with a graphics card',
        a: rate,
        b: 30,
        ratio: rate / 30,
        want: /swiftshader|llvmpipe|software/i.test(drawnBy) ? {} : { least: 1 },
      },
    ];
  } finally {
    await browser.close();
  }
}

const TURN = `new Promise((done) => {
  const { view } = tiltwright;
  const gl = view.frames.context;
  const info = gl.getExtension('WEBGL_debug_renderer_info');
  const name = info ? gl.getParameter(info.UNMASKED_RENDERER_WEBGL) : gl.getParameter(gl.RENDERER);
  const first = view.frames.drawn;
  const began = performance.now();
  const turn = () => {
    const lasted = (performance.now() - began) / 1000;
    if (lasted > ${LASTS} && view.frames.drawn > first) done([(view.frames.drawn - first) / lasted, name]);
    else { view.orbit(0.02, 0); requestAnimationFrame(turn); }
  };
  turn();
})`;
