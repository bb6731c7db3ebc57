/**
 * The error budget as figures for report.json, as sentences, as a CSV map, and as a picture of the
 * beads coloured by their expected error, with a bar for each source.
 */
import { COVERAGE, type SourceValues, type ErrorBudget } from '../budget/budget.js';
import { firstAtLeast } from '../base/sorted.js';
import type { Vec3 } from '../base/vector.js';
import type { Trace } from '../verify/trace.js';
import { type ErrorFigures, errorWords } from './error-words.js';
import { PICTURE_STYLE, escape } from '../directions/map-picture.js';
import type { Colour } from '../draw/raster.js';
import { viridis } from '../draw/viridis.js';
import { css, regionColour } from '../draw/palette.js';
import { beadsImage } from './beads-picture.js';

const mean = (values: Float64Array): number => values.reduce((a, b) => a + b, 0) / values.length;

/** @param bead usual height and width of the beads, mm */
export function errorFigures(
  budget: ErrorBudget,
  trace: Trace,
  bead: { readonly heightMm: number; readonly widthMm: number },
): ErrorFigures {
  const { expected, worst, points, systematic, random, blocks, sources, dominant } = budget;
  const most = expected[worst]!;
  const at = (c: number): number => Number(points[3 * worst + c]!.toFixed(3)) + 0;
  return {
    expected: { mostMm: most, meanMm: mean(expected) },
    worst: {
      point: [at(0), at(1), at(2)],
      line: trace.line[blocks[worst]!]!,
      systematicMm: systematic[worst]!,
      randomMm: random[worst]!,
      ofLayerThickness: most / bead.heightMm,
      ofBeadWidth: most / bead.widthMm,
    },
    layerThicknessMm: bead.heightMm,
    beadWidthMm: bead.widthMm,
    ...(dominant && { dominant }),
    combined: `sum of the systematic errors and ${COVERAGE} x the root of the sum of squares of the random ones (about 95 %); a source within another is counted there`,
    sources: sources.map(({ name, kind, within, formula, notStated, mm }) => ({
      name,
      kind,
      ...(within && { within }),
      formula,
      notStated,
      ...(mm && { mm: { most: Math.max(...mm), mean: mean(mm), atWorst: mm[worst]! } }),
    })),
  };
}

/** One row per place: its coordinates and every source, mm. */
export function errorsCsv({ points, sources, expected }: ErrorBudget): string {
  const known = sources.filter((s) => s.mm);
  const head = [
    'x mm,y mm,z mm',
    ...known.map(({ name, kind }) => `${name} ${kind === 'random' ? 'standard ' : ''}mm`),
    'expected mm',
  ];
  const rows = Array.from(expected, (e, i) => {
    const place = [0, 1, 2].map((c) => (points[3 * i + c]! + 0).toFixed(3));
    return [...place, ...[...known.map((s) => s.mm![i]!), e].map((x) => x.toFixed(5))].join(',');
  });
  return `${[head.join(','), ...rows].join('\n')}\n`;
}

const ERROR_SIZE = 420;
const ERROR_GAP = 24;
const ERROR_HEAD = 70;
const ROW = 24;
const BAR = { left: 130, width: 420 };
/** From where the part is seen. */
const VIEWS: readonly { readonly name: string; readonly eye: Vec3 }[] = [
  { name: 'front left, from above', eye: [-0.65, -1, 0.55] },
  { name: 'back right, from above', eye: [0.9, 0.8, 0.45] },
];
/** Of systematic and random bars. */
const COLOUR = { systematic: css(regionColour(5)), random: css(regionColour(1)) } as const;

/** One SVG that needs nothing beside it; the views are PNG images inside it. */
export function errorsPicture(budget: ErrorBudget, trace: Trace, figures: ErrorFigures): string {
  const top = figures.expected.mostMm;
  const width = 2 * ERROR_SIZE + 3 * ERROR_GAP;
  const bars = budget.sources.length;
  const notes = errorWords(figures).flatMap((line) => wrapped(line, 130));
  const height = ERROR_HEAD + ERROR_SIZE + 78 + ROW * (bars + 2) + 18 * notes.length + ERROR_GAP;
  const title = 'Expected error of the tip';
  const views = VIEWS.map(({ name, eye }, i) => {
    const png = beadsImage(trace, colouring(budget, top), eye, ERROR_SIZE);
    const x = ERROR_GAP + i * (ERROR_SIZE + ERROR_GAP);
    return `<g transform="translate(${x} ${ERROR_HEAD})"><image width="${ERROR_SIZE}" height="${ERROR_SIZE}" href="data:image/png;base64,${Buffer.from(png).toString('base64')}"/><text class="soft" x="${ERROR_SIZE / 2}" y="${ERROR_SIZE + 14}" font-size="12" text-anchor="middle">${name}</text></g>`;
  });
  const below = ERROR_HEAD + ERROR_SIZE + 78;
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="system-ui, sans-serif" role="img" aria-label="${title}">`,
    PICTURE_STYLE,
    `<rect class="ground" width="${width}" height="${height}"/>`,
    `<text class="ink" x="${ERROR_GAP}" y="28" font-size="18" font-weight="600">${title}</text>`,
    `<text class="soft" x="${ERROR_GAP}" y="49" font-size="13">${escape(`systematic errors summed, and ${COVERAGE} x the root of the sum of squares of the random ones; bead by bead`)}</text>`,
    ...views,
    ...scaleRow(top, ERROR_HEAD + ERROR_SIZE + 26),
    `<text class="ink" x="${ERROR_GAP}" y="${below}" font-size="14" font-weight="600">At the worst place, by source</text>`,
    legend(below),
    ...budget.sources.map((source, i) => bar(source, budget.worst, top, below + 12 + ROW * i)),
    ...notes.map(
      (line, i) =>
        `<text class="soft" x="${ERROR_GAP}" y="${below + 32 + ROW * bars + 18 * i}" font-size="13">${escape(line)}</text>`,
    ),
    '</svg>',
    '',
  ].join('\n');
}

/** Each bead has the colour of the spot that it leads to. */
const colouring =
  ({ blocks, expected }: ErrorBudget, top: number) =>
  (block: number): Colour => {
    const spot = Math.min(blocks.length - 1, firstAtLeast(blocks, block));
    return viridis(top > 0 ? expected[spot]! / top : 0);
  };

function scaleRow(top: number, y: number): string[] {
  const stops = Array.from({ length: 9 }, (_, i) => {
    return `<stop offset="${i / 8}" stop-color="${css(viridis(i / 8))}"/>`;
  }).join('');
  const ticks = [0, 0.25, 0.5, 0.75, 1].map(
    (share) =>
      `<text class="soft" x="${BAR.left + share * BAR.width}" y="${y + 28}" font-size="11" text-anchor="middle">${(share * top).toFixed(3)}</text>`,
  );
  return [
    `<defs><linearGradient id="scale">${stops}</linearGradient></defs>`,
    `<text class="soft" x="${ERROR_GAP}" y="${y + 12}" font-size="12">expected, mm</text>`,
    `<rect x="${BAR.left}" y="${y}" width="${BAR.width}" height="14" fill="url(#scale)"/>`,
    ...ticks,
  ];
}

const legend = (y: number): string =>
  (['systematic', 'random'] as const)
    .map((kind, i) => {
      const x = BAR.left + 150 + 220 * i;
      const what = kind === 'random' ? `random, ${COVERAGE} x standard uncertainty` : kind;
      return `<rect x="${x}" y="${y - 11}" width="12" height="12" fill="${COLOUR[kind]}"/><text class="ink" x="${x + 18}" y="${y}" font-size="12">${what}</text>`;
    })
    .join('');

function bar(
  { name, kind, mm, within }: SourceValues,
  worst: number,
  top: number,
  y: number,
): string {
  const size = (mm?.[worst] ?? 0) * (kind === 'random' ? COVERAGE : 1);
  const long = top > 0 ? (BAR.width * size) / top : 0;
  const words = mm
    ? `${size.toFixed(4)} mm${within ? `, counted in ${within}` : ''}`
    : 'not stated, left out';
  return [
    `<text class="ink" x="${ERROR_GAP}" y="${y + 12}" font-size="13">${name}</text>`,
    `<rect x="${BAR.left}" y="${y}" width="${long.toFixed(1)}" height="15" rx="2" fill="${COLOUR[kind]}" opacity="${within ? 0.45 : 1}"/>`,
    `<text class="${mm ? 'ink' : 'soft'}" x="${(BAR.left + long + 8).toFixed(1)}" y="${y + 12}" font-size="12">${words}</text>`,
  ].join('');
}

/** Lines of at most so many characters, broken between words. */
function wrapped(text: string, most: number): string[] {
  const out = [''];
  for (const word of text.split(' ')) {
    const last = out.at(-1)!;
    if (last && last.length + word.length + 1 > most) out.push(word);
    else out[out.length - 1] = last ? `${last} ${word}` : word;
  }
  return out;
}
