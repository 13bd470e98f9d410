import { describe, expect, it } from 'vitest';
import { KIND, geometryOf, nearestTrace } from './geometry';
import { TraceRaster, type Looks } from './raster';

const plain = { halfWidth: 0.5, dash: 0, gap: 0, colour: 0x0000ff };
const looks: Looks = { 0: plain, 1: { ...plain, dash: 4, gap: 4 }, 2: plain, 3: plain, 4: { ...plain, halfWidth: 1.5 } };
const here = { scale: 1, dx: 0, dy: 0 };

function alphaAt(raster: TraceRaster, x: number, y: number): number {
  return raster.pixels[y * raster.width + x]! >>> 24;
}

describe('TraceRaster', () => {
  it('draws a level and an upright line where they are, one pixel wide', () => {
    const raster = new TraceRaster(40, 30);
    const traces = [
      { points: [[5, 10], [25, 10]], kind: KIND.accepted },
      { points: [[30, 2], [30, 20]], kind: KIND.accepted },
    ] as const;
    expect(raster.draw(geometryOf(traces), here, looks)).toBe(2);
    expect(alphaAt(raster, 15, 10)).toBe(255);
    expect(alphaAt(raster, 15, 12)).toBe(0);
    expect(alphaAt(raster, 30, 10)).toBe(255);
    expect(alphaAt(raster, 3, 10)).toBe(0);
  });

  it('covers the same area whichever way a slanting line is walked', () => {
    const sums = [[[3, 4], [33, 21]], [[33, 21], [3, 4]]].map((points) => {
      const raster = new TraceRaster(40, 30);
      raster.draw(geometryOf([{ points: points as [number, number][], kind: KIND.accepted }]), here, looks);
      return raster.pixels.reduce((sum, value) => sum + (value >>> 24) / 255, 0);
    });
    expect(sums[0]).toBeCloseTo(sums[1]!, 6);
    // One pixel wide: area is the length, give or take the ends.
    expect(Math.abs(sums[0]! - Math.hypot(30, 17))).toBeLessThan(2);
  });

  it('leaves out what does not meet the canvas and clips what does', () => {
    const raster = new TraceRaster(20, 20);
    const traces = [
      { points: [[-50, 5], [90, 5]], kind: KIND.accepted },
      { points: [[100, 100], [200, 200]], kind: KIND.accepted },
    ] as const;
    expect(raster.draw(geometryOf(traces), here, looks)).toBe(1);
    expect(alphaAt(raster, 0, 5)).toBe(255);
    expect(alphaAt(raster, 19, 5)).toBe(255);
  });

  it('breaks the line of a suspect, so that colour is not needed to tell it', () => {
    const raster = new TraceRaster(40, 10);
    raster.draw(geometryOf([{ points: [[0, 5], [39, 5]], kind: KIND.suspect }]), here, looks);
    expect([alphaAt(raster, 1, 5), alphaAt(raster, 5, 5), alphaAt(raster, 9, 5)]).toEqual([255, 0, 255]);
  });

  it('follows a bow that can be seen and draws the chord of one that cannot', () => {
    const bowed = geometryOf([{ points: [[0, 10], [20, 14], [39, 10]], kind: KIND.accepted }]);
    const near = new TraceRaster(40, 30);
    near.draw(bowed, here, looks);
    expect(alphaAt(near, 20, 14)).toBeGreaterThan(0);
    const far = new TraceRaster(40, 30);
    far.draw(bowed, { scale: 0.05, dx: 0, dy: 0 }, looks);
    expect(far.pixels.some((value) => value !== 0)).toBe(true);
  });
});

describe('nearestTrace', () => {
  const geometry = geometryOf([
    { points: [[0, 0], [100, 0]], kind: KIND.accepted },
    { points: [[0, 8], [50, 8], [100, 20]], kind: KIND.accepted },
  ]);
  it('finds the nearer one within the distance and none beyond', () => {
    expect(nearestTrace(geometry, 40, 2, 5)).toBe(0);
    expect(nearestTrace(geometry, 40, 7, 5)).toBe(1);
    expect(nearestTrace(geometry, 40, 60, 5)).toBe(-1);
  });
});
