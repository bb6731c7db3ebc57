/** Runs of curved layers on every kind of machine. */
import { test } from 'vitest';
import { expectCurvedRun } from './curved-run.js';

test.each(['table-table-ac', 'table-table-bc', 'head-table'])(
  '%s: a block of 9 x 4 mm in eight sheets',
  (name) => expectCurvedRun(name, [9, 4, 1.6]),
);
