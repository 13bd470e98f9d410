import { expect, it } from 'vitest';
import { answersOf } from './blind';

it('answers are read line by line, and the last comma parts name from finish', () => {
  expect(answersOf('p1, guided-rub\n\n panel 2, left, free hand ')).toEqual([
    { name: 'p1', finish: 'guided-rub' },
    { name: 'panel 2, left', finish: 'free-hand' },
  ]);
  expect(answersOf('')).toEqual([]);
});

it.each(['p1', 'p1,', ', guided-rub'])('%j is no answer', (text) => {
  expect(answersOf(text)).toBeUndefined();
});
