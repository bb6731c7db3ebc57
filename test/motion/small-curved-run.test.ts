/** A run of curved layers so small that it is planned at every save. */
import { test } from 'vitest';
import { expectCurvedRun } from './curved-run.js';

test('table-table-ac: a block of 5 x 3 mm in four sheets', () =>
  expectCurvedRun('table-table-ac', [5, 3, 0.8]));
