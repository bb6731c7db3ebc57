/**
 * Findings of a finished job: errors first, and the first few of many of one kind. Notes are in the report.
 */
import { make } from './dom.js';

export interface Finding {
  readonly code: string;
  readonly severity: 'note' | 'warning' | 'error';
  readonly message: string;
}

/** So many of a kind are shown each. */
const SHOWN = 3;

export function findingLines(findings: readonly Finding[]): HTMLElement[] {
  const lines = (['error', 'warning'] as const).flatMap((severity) => {
    const kinds = new Map<string, Finding[]>();
    for (const f of findings)
      if (f.severity === severity) kinds.set(f.code, [...(kinds.get(f.code) ?? []), f]);
    return [...kinds.values()].flatMap(linesOf);
  });
  if (lines.length === 0) return [];
  return [make('h3', {}, 'Findings'), make('ul', { class: 'findings' }, ...lines)];
}

function linesOf(kind: readonly Finding[]): HTMLElement[] {
  const line = (severity: string, text: string): HTMLElement =>
    make(
      'li',
      {},
      make('strong', { class: severity === 'error' ? 'problem' : 'warning' }, `${severity}: `),
      text,
    );
  const { severity, code } = kind[0]!;
  const more = kind.length - SHOWN;
  return [
    ...kind.slice(0, SHOWN).map((f) => line(severity, `${f.message} (${f.code})`)),
    ...(more > 0 ? [line(severity, `${more} more of these, in the report (${code})`)] : []),
  ];
}
