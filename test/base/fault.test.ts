import { expect, test } from 'vitest';
import { Fault } from '../../lib/base/fault.js';

test('a fault that crossed a thread as data comes back as it was', () => {
  const fault = new Fault('mesh/open-edges', '3 open edges, the limit is 0', {
    point: [1, 2, 3],
    frame: 'part',
    line: 4,
  });
  // What is posted between threads goes through the structured clone algorithm.
  const again = Fault.fromData(structuredClone(fault.toData()));
  expect(again).toBeInstanceOf(Fault);
  expect(again.name).toBe('Fault');
  expect(again.code).toBe('mesh/open-edges');
  expect(again.message).toBe('3 open edges, the limit is 0');
  expect(again.at).toEqual({ point: [1, 2, 3], frame: 'part', line: 4 });
});

test('posting the error itself would lose its code, which is why it travels as data', () => {
  const posted: unknown = structuredClone(new Fault('a/b', 'c'));
  expect(posted).toBeInstanceOf(Error);
  expect((posted as { code?: string }).code).toBeUndefined();
});

test('a fault without a place says nothing of one', () => {
  expect(new Fault('a/b', 'c').toData()).toEqual({ code: 'a/b', message: 'c' });
});
