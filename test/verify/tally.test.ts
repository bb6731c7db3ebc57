/** Findings that are many: which are told one by one, which together, and that none is lost. */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { Tally } from '../../lib/verify/tally.js';

const said =
  (line: number, message = `at ${line}`) =>
  (): { message: string; at: { line: number } } => ({
    message,
    at: { line },
  });

describe('errors', () => {
  it('are told one by one up to the twentieth', () => {
    const tally = new Tally();
    for (let i = 1; i <= 20; i++) tally.add('a', 'error', i, said(i));
    const findings = tally.findings();
    expect(findings).toHaveLength(20);
    expect(findings[19]).toEqual({
      code: 'a',
      severity: 'error',
      message: 'at 20',
      at: { line: 20 },
    });
    expect(tally.counts()).toEqual({ a: 20 });
  });

  it('from the twenty-first on as a number, with the worst of all', () => {
    const tally = new Tally();
    for (let i = 1; i <= 25; i++) tally.add('a', 'error', i === 23 ? 99 : i, said(i));
    const findings = tally.findings();
    expect(findings).toHaveLength(21);
    expect(findings[20]).toEqual({
      code: 'a',
      severity: 'error',
      message: '5 more of this kind, 25 in all; the worst: at 23',
      at: { line: 23 },
    });
  });

  it('are one list whatever run they are in, and of equal ones the first is the worst', () => {
    const tally = new Tally();
    for (let i = 1; i <= 22; i++) tally.add('a', 'error', 7, said(i), { run: i % 2 });
    expect(tally.findings().at(-1)!.message).toBe(
      '2 more of this kind, 22 in all; the worst: at 1',
    );
  });

  it('that were thrown keep code, words and place', () => {
    const tally = new Tally();
    tally.addFault(new Fault('program/x', 'words', { line: 3 }));
    tally.addFault(new Fault('program/y', 'others'));
    expect(tally.findings()).toEqual([
      { code: 'program/x', severity: 'error', message: 'words', at: { line: 3 } },
      { code: 'program/y', severity: 'error', message: 'others', at: {} },
    ]);
  });
});

describe('warnings', () => {
  it('are told as they are if there is one', () => {
    const tally = new Tally();
    tally.add('w', 'warning', 1, said(4), { run: 2, amount: 3, unit: 'mm' });
    expect(tally.findings()).toEqual([
      { code: 'w', severity: 'warning', message: 'at 4', at: { line: 4 } },
    ]);
  });

  it('are one finding with count, sum and first lines of each run, and the worst of all', () => {
    const tally = new Tally();
    for (let i = 1; i <= 6; i++)
      tally.add('w', 'warning', i, said(10 * i), { run: 0, amount: 1.5, unit: 'mm2' });
    tally.add('w', 'warning', 9, said(70), { run: 3, amount: 0.25, unit: 'mm2' });
    tally.add('w', 'warning', 2, said(80), { run: 4, amount: 1, unit: 'mm2' });
    tally.add('w', 'warning', 2, said(80), { run: 4, amount: 1, unit: 'mm2' });
    expect(tally.counts()).toEqual({ w: 9 });
    expect(tally.findings()).toEqual([
      {
        code: 'w',
        severity: 'warning',
        message:
          '6 places in run 1, 9.0 mm2 in all (first lines 10, 20, 30, 40, 50); ' +
          '1 place in run 4, 0.3 mm2 in all; 2 places in run 5, 2.0 mm2 in all; the worst: at 70',
        at: { line: 70 },
      },
    ]);
  });

  it('name all lines if there are no more than five, each once', () => {
    const tally = new Tally();
    for (const line of [5, 8, 9]) tally.add('w', 'warning', 1, said(line));
    expect(tally.findings()[0]!.message).toBe('3 places in all (lines 5, 8, 9); the worst: at 5');
  });

  it('and notes of one code stand apart', () => {
    const tally = new Tally();
    tally.add('w', 'note', 1, said(1), { run: 0 });
    tally.add('w', 'note', 3, said(2), { run: 1 });
    tally.add('v', 'warning', 1, said(3));
    expect(tally.findings()).toEqual([
      { code: 'w', severity: 'note', message: '2 places in all; the worst: at 2', at: { line: 2 } },
      { code: 'v', severity: 'warning', message: 'at 3', at: { line: 3 } },
    ]);
  });
});

it('asks for words only where they are told', () => {
  const tally = new Tally();
  let asked = 0;
  for (let i = 0; i < 100; i++) {
    tally.add('n', 'note', i, () => {
      asked++;
      return { message: String(i), at: {} };
    });
  }
  expect(asked).toBe(0);
  expect(tally.findings()[0]!.message).toBe('100 places in all; the worst: 99');
  expect(asked).toBe(1);
});
