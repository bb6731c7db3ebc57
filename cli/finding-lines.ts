/**
 * Findings in lines for people: of many of one kind the first few, how many more there are, and the last,
 * which often sums them up.
 */
import type { Finding } from '../lib/index.js';

/** So many of one kind are printed one by one. */
const ALL = 4;
const FIRST = 2;

/** @param all where every finding stands with its place, as words after a comma */
export function findingLines(findings: readonly Finding[], all: string): string[] {
  const kinds = new Map<string, Finding[]>();
  for (const finding of findings) {
    const key = `${finding.severity} ${finding.code}`;
    const kind = kinds.get(key);
    if (kind) kind.push(finding);
    else kinds.set(key, [finding]);
  }
  return [...kinds.values()].flatMap((kind) => {
    if (kind.length <= ALL) return kind.map(findingLine);
    const { severity, code } = kind[0]!;
    return [
      ...kind.slice(0, FIRST).map(findingLine),
      `${severity}: ${kind.length - FIRST - 1} more like these, ${all} [${code}]`,
      findingLine(kind.at(-1)!),
    ];
  });
}

const findingLine = ({ severity, code, message, at }: Finding): string =>
  `${severity}: ${placeOf(message, at)}${message} [${code}]`;

function placeOf(message: string, at: Finding['at']): string {
  if (at?.line !== undefined) return message.startsWith('line ') ? '' : `line ${at.line}: `;
  const region = at?.region;
  return region === undefined || message.includes(`region ${region + 1}`)
    ? ''
    : `region ${region + 1}: `;
}

const WEIGHT = { error: 0, warning: 1, note: 2 } as const;

/** Every finding on a line of its own, what is wrong first. */
export const severityLines = (findings: readonly Finding[]): string[] =>
  [...findings].sort((a, b) => WEIGHT[a.severity] - WEIGHT[b.severity]).map(findingLine);
