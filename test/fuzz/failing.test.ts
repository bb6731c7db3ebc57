/**
 * Inputs that failed once (test/support/failing, kept by `npm run fuzz`): each ends in a record or in a
 * Fault now. And a small sample of fresh ones, so that the changes and the subjects stay in use.
 */
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { packaged } from '../../worker/built.js';
import { seedOf } from './seed.js';
import { type Subject, subjects } from './subjects.js';

const all = subjects(await loadSolidKernel());
const folder = packaged('test/support/failing/');
const kept = existsSync(folder) ? readdirSync(folder) : [];

function end(subject: Subject, bytes: Uint8Array): 'taken' | 'refused' {
  try {
    subject.run(bytes);
    return 'taken';
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    expect(error.code).toMatch(/^[a-z0-9]+\/[a-z0-9-]+$/);
    return 'refused';
  }
}

test.each(kept)('%s', (name) => {
  const subject = all.find((s) => name.startsWith(`${s.name}-`))!;
  expect(['taken', 'refused']).toContain(end(subject, readFileSync(new URL(name, folder))));
});

const SEED = 3;
const COUNT = 40;
describe(`${COUNT} changed inputs each, seed ${SEED}`, () => {
  test.each(all.map((s): [string, Subject] => [s.name, s]))('%s', (_, subject) => {
    const inputs = Array.from({ length: COUNT }, (_, i) => subject.make(seeded(seedOf(SEED, i))));
    const ends = inputs.map((bytes) => end(subject, bytes));
    // Changes that hurt nothing would test nothing; those that ruin everything would not get far.
    expect(new Set(inputs.map((b) => b.join())).size).toBeGreaterThan(COUNT / 2);
    if (subject.name !== 'check') expect(ends).toContain('refused');
    expect(ends).toContain('taken');
  });
});
