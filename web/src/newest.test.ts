import { expect, it } from 'vitest';
import { mayReplace } from './newest';

const at = (revision: number, folder = '/a') => ({ folder, revision });

it('an answer that was overtaken does not put the page back', () => {
  expect(mayReplace(at(12), at(11))).toBe(false);
  expect(mayReplace(at(12), at(12))).toBe(true);
  expect(mayReplace(at(12), at(13))).toBe(true);
});

it('another examination, or none, takes the place of any', () => {
  expect(mayReplace(at(12), at(3, '/b'))).toBe(true);
  expect(mayReplace(at(12), undefined)).toBe(true);
  expect(mayReplace(undefined, at(1))).toBe(true);
});
