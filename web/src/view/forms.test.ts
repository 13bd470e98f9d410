import { expect, test } from 'vitest';
import { kindOf, points, statesUnit } from './forms';

test('a file is a mesh or a height map by its name', () => {
  expect(kindOf('statue.PLY')).toBe('mesh');
  expect(kindOf('face.x3p')).toBe('heights');
  expect(kindOf('letter.pdf')).toBe('unknown');
});

test('only formats that fix their unit are not asked', () => {
  expect([statesUnit('a.x3p'), statesUnit('a.glb'), statesUnit('a.stl'), statesUnit('a.tif')]).toEqual([true, true, false, false]);
});

test('points are read one a line, and what is no point is told', () => {
  expect(points('1 2 3\n4, 5\n')).toEqual([[1, 2, 3], [4, 5, 0]]);
  expect(points('')).toEqual([]);
  expect(points('1\n')).toBeUndefined();
  expect(points('1 two 3')).toBeUndefined();
});
