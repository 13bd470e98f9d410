import { expect, it } from 'vitest';
import { printed } from './words';

it.each([
  [1.29298, 0.00153, '1.2930 ± 0.0015'],
  [12.345, 0.0996, '12.35 ± 0.10'],
  [3, 0, '3'],
])('prints %f ± %f with two digits of the uncertainty', (value, u, shown) => {
  expect(printed({ value, u })).toBe(shown);
});
