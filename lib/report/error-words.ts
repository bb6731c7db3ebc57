/** The figures of the error budget as report.json holds them, and what they say; shared with the page. */
import type { Vec3 } from '../base/vector.js';

/** mm throughout. */
export interface ErrorFigures {
  readonly expected: { readonly mostMm: number; readonly meanMm: number };
  readonly worst: {
    /** Part frame, and the program's line that lays it. */
    readonly point: Vec3;
    readonly line: number;
    readonly systematicMm: number;
    /** Standard uncertainty. */
    readonly randomMm: number;
    readonly ofLayerThickness: number;
    readonly ofBeadWidth: number;
  };
  readonly layerThicknessMm: number;
  readonly beadWidthMm: number;
  /** Source that makes most of the worst place; left out if nothing is stated. */
  readonly dominant?: string;
  readonly combined: string;
  readonly sources: readonly {
    readonly name: string;
    readonly kind: 'systematic' | 'random';
    readonly within?: string;
    readonly formula: string;
    readonly notStated: readonly string[];
    /** Left out where nothing is stated; random ones are standard uncertainties. */
    readonly mm?: { readonly most: number; readonly mean: number; readonly atWorst: number };
  }[];
}

const percent = (share: number): string => `${(100 * share).toFixed(0)} %`;

/** Two or three sentences. */
export function errorWords({ expected, worst, dominant, sources }: ErrorFigures): string[] {
  const place = worst.point.map((c) => c.toFixed(1)).join(' ');
  const leads = dominant ? `; most of it comes from ${dominant}` : '';
  const open = [...new Set(sources.flatMap((s) => s.notStated))];
  return [
    `expected error of the tip: up to ${expected.mostMm.toFixed(3)} mm at ${place}, ${percent(worst.ofLayerThickness)} of a layer's thickness and ${percent(worst.ofBeadWidth)} of a bead's width${leads}; mean ${expected.meanMm.toFixed(3)} mm`,
    ...(open.length ? [`not stated, left out of it: ${open.join('; ')}`] : []),
  ];
}
