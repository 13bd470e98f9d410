import { expect, it } from 'vitest';
import { scaleBar } from './scalebar';

it('is as long on screen as it says', () => {
  const bar = scaleBar(0.5, 1.25, 160);
  expect(bar.label).toBe('200 µm');
  expect(bar.widthPx).toBeCloseTo((200 / 1.25) * 0.5, 9);
});

it('turns to millimetres, and to pixels where there is no scale', () => {
  expect(scaleBar(0.1, 5, 100).label).toBe('5 mm');
  expect(scaleBar(2, null, 100).label).toBe('50 px (no scale)');
});

it('never exceeds its place over nine decades', () => {
  for (let zoom = 1e-4; zoom < 1e5; zoom *= 1.7) {
    const bar = scaleBar(zoom, 1.3, 150);
    expect(bar.widthPx).toBeLessThanOrEqual(150 + 1e-9);
    expect(bar.widthPx).toBeGreaterThan(150 / 2.6);
  }
});
