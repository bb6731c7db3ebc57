/**
 * Findings, none of them dropped in silence. Every place is counted. Of errors the first places of each
 * code are kept, and one more finding says how many there are in all and which is the worst. Warnings of a
 * code are one finding with the worst place, and with count, sum and the first lines of each run of the
 * program that has any; notes of a code are one finding. So a reader meets each kind once, and a hundred
 * places do not hide another kind.
 */
import type { Fault, Finding, Place, Severity } from '../base/fault.js';

/** Places reported of an error's code; more are only counted. */
const REPORTED_PLACES = 20;
/** Lines that are named of warnings reported together. */
const NAMED_LINES = 5;

interface Said {
  readonly message: string;
  readonly at: Place;
}

/** The run to which a place belongs, and how much there is of what is found, to be summed. */
export interface RunShare {
  readonly run: number;
  readonly amount?: number;
  readonly unit?: 'mm' | 'mm2';
}

interface TallyEntry {
  readonly code: string;
  readonly severity: Severity;
  readonly run: number | undefined;
  readonly unit: RunShare['unit'] | undefined;
  count: number;
  sum: number;
  readonly reported: Said[];
  readonly lines: number[];
  worst: number;
  say: () => Said;
}

/** Where findings are told. */
export interface FindingSink {
  /**
   * @param size how bad it is, to find the worst of a code; any unit, larger is worse
   * @param say called only for findings that are reported
   * @param share of warnings, to report them run by run
   */
  add(code: string, severity: Severity, size: number, say: () => Said, share?: RunShare): void;
}

/** A finding as it was told, which crosses a thread. */
export interface SaidFinding extends Said {
  readonly code: string;
  readonly severity: Severity;
  readonly size: number;
  readonly share?: RunShare;
}

/** Keeps all that is told, to be told again elsewhere. */
export class FindingList implements FindingSink {
  readonly said: SaidFinding[] = [];

  add(code: string, severity: Severity, size: number, say: () => Said, share?: RunShare): void {
    this.said.push({ code, severity, size, ...say(), ...(share ? { share } : {}) });
  }
}

export class Tally implements FindingSink {
  /** By code, and by run for warnings of which it is known. */
  readonly #entries = new Map<string, TallyEntry>();

  add(code: string, severity: Severity, size: number, say: () => Said, share?: RunShare): void {
    const run = severity === 'warning' ? share?.run : undefined;
    const key = `${code} ${run ?? ''}`;
    let entry = this.#entries.get(key);
    if (!entry) {
      const unit = share?.unit;
      entry = {
        code,
        severity,
        run,
        unit,
        count: 0,
        sum: 0,
        reported: [],
        lines: [],
        worst: -Infinity,
        say,
      };
      this.#entries.set(key, entry);
    }
    entry.count++;
    entry.sum += share?.amount ?? 0;
    if (severity === 'error' && entry.reported.length < REPORTED_PLACES) entry.reported.push(say());
    if (severity === 'warning' && entry.lines.length < NAMED_LINES) {
      const { line } = say().at;
      if (line !== undefined && !entry.lines.includes(line)) entry.lines.push(line);
    }
    if (size > entry.worst) {
      entry.worst = size;
      entry.say = say;
    }
  }

  /** Adds what was told elsewhere. */
  addAll(list: readonly SaidFinding[]): void {
    for (const { code, severity, size, share, message, at } of list) {
      this.add(code, severity, size, () => ({ message, at }), share);
    }
  }

  addFault(fault: Fault): void {
    const said = { message: fault.message, at: fault.at ?? {} };
    this.add(fault.code, 'error', 0, () => said);
  }

  /** How many places of each code. */
  counts(): Record<string, number> {
    const counts: Record<string, number> = {};
    for (const { code, count } of this.#entries.values()) {
      counts[code] = (counts[code] ?? 0) + count;
    }
    return counts;
  }

  findings(): Finding[] {
    const kinds = new Map<string, TallyEntry[]>();
    for (const entry of this.#entries.values()) {
      const key = `${entry.code} ${entry.severity}`;
      const kind = kinds.get(key);
      if (kind) kind.push(entry);
      else kinds.set(key, [entry]);
    }
    return [...kinds.values()].flatMap(findingsOf);
  }
}

/** @param entries of one code, by run */
function findingsOf(entries: readonly TallyEntry[]): Finding[] {
  const [{ code, severity, reported: reported }] = entries as [TallyEntry];
  const each = reported.map((said): Finding => ({ code, severity, ...said }));
  const count = entries.reduce((sum, e) => sum + e.count, 0);
  if (count === reported.length) return each;
  const worst = entries.reduce((a, b) => (b.worst > a.worst ? b : a)).say();
  if (count === 1) return [{ code, severity, ...worst }];
  const rest = each.length > 0 ? `${count - each.length} more of this kind, ` : '';
  const message = `${rest}${entries.map(inAll).join('; ')}; the worst: ${worst.message}`;
  return [...each, { code, severity, message, at: worst.at }];
}

/** Runs count from one, as people do. */
function inAll({ severity, count, sum, run, unit, lines }: TallyEntry): string {
  if (severity === 'error') return `${count} in all`;
  const where = run === undefined ? '' : ` in run ${run + 1}`;
  const much = unit === undefined ? '' : `, ${sum.toFixed(1)} ${unit}`;
  const first =
    lines.length > 1 ? ` (${count > lines.length ? 'first ' : ''}lines ${lines.join(', ')})` : '';
  return `${count} ${count === 1 ? 'place' : 'places'}${where}${much} in all${first}`;
}
