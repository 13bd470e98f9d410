import OpenSeadragon from 'openseadragon';
import type { TraceGeometry } from '../draw/geometry';
import { TraceRaster, type Looks, type Placement } from '../draw/raster';

/** A drawing of the view that takes longer than this, ms, is moved while panning and redrawn after; a quicker one is redrawn
 * as often as leaves half of the time for everything else: every frame, if it takes less than one. */
const REDRAW_BUDGET_MS = 33;
/** Pause after the last movement before the complete redraw, ms: long enough not to fall between two frames of a drag. */
const SETTLE_MS = 75;
/** Margin drawn around the view where drawings are moved, as a share of its size, so that a drag uncovers finished lines. */
const MARGIN = 0.15;

/** What was last done, for the frame benchmark: it must see real draws and real movement. */
export interface OverlayCounters {
  draws: number;
  moves: number;
  lastDrawMs: number;
  lastDrawn: number;
}

/** Traces over a deep-zoom viewer: culled to the view, drawn into pixels, moved by a transform where a redraw is too slow. */
export class TraceOverlay {
  readonly counters: OverlayCounters = { draws: 0, moves: 0, lastDrawMs: 0, lastDrawn: 0 };
  private readonly canvas = document.createElement('canvas');
  private raster: TraceRaster | undefined;
  private drawnAt: Placement | undefined;
  private settle: ReturnType<typeof setTimeout> | undefined;
  private geometry: TraceGeometry | undefined;
  /** What drawing the view alone cost the last three times, ms. The least counts: the first drawing of a page and one that
   * another program interrupted take several times as long. */
  private costsMs: number[] = [];
  /** When the last drawing was done, ms. */
  private drawnMs = 0;

  constructor(
    private readonly viewer: OpenSeadragon.Viewer,
    private looks: Looks,
  ) {
    this.canvas.className = 'trace-overlay';
    this.canvas.setAttribute('aria-hidden', 'true');
    viewer.canvas.appendChild(this.canvas);
    viewer.addHandler('update-viewport', this.follow);
    viewer.addHandler('open', this.redraw);
    viewer.addHandler('resize', this.redraw);
  }

  show(geometry: TraceGeometry): void {
    this.geometry = geometry;
    this.redraw();
  }

  wear(looks: Looks): void {
    this.looks = looks;
    this.redraw();
  }

  destroy(): void {
    clearTimeout(this.settle);
    this.viewer.removeHandler('update-viewport', this.follow);
    this.viewer.removeHandler('open', this.redraw);
    this.viewer.removeHandler('resize', this.redraw);
    this.canvas.remove();
  }

  private readonly follow = (): void => {
    const now = this.placement();
    const before = this.drawnAt;
    if (!now || !before) {
      this.redraw();
      return;
    }
    if (now.scale === before.scale && now.dx === before.dx && now.dy === before.dy) return;
    if (this.isQuick() && performance.now() - this.drawnMs >= this.costMs()) {
      this.redraw();
      return;
    }
    this.move(before, now);
    clearTimeout(this.settle);
    this.settle = setTimeout(this.redraw, SETTLE_MS);
  };

  private costMs(): number {
    return this.costsMs.length === 0 ? 0 : Math.min(...this.costsMs);
  }

  private isQuick(): boolean {
    return this.costMs() <= REDRAW_BUDGET_MS;
  }

  private move(before: Placement, now: Placement): void {
    const zoom = now.scale / before.scale;
    const ratio = window.devicePixelRatio || 1;
    const [x, y] = [(now.dx - before.dx * zoom) / ratio, (now.dy - before.dy * zoom) / ratio];
    this.canvas.style.transform = `translate(${x}px, ${y}px) scale(${zoom})`;
    this.counters.moves += 1;
  }

  private readonly redraw = (): void => {
    clearTimeout(this.settle);
    const placement = this.placement();
    if (!placement || !this.geometry) return;
    const start = performance.now();
    const ratio = window.devicePixelRatio || 1;
    const margin = this.isQuick() ? 0 : MARGIN;
    const width = Math.round(this.viewer.canvas.clientWidth * ratio);
    const height = Math.round(this.viewer.canvas.clientHeight * ratio);
    const [left, top] = [Math.round(width * margin), Math.round(height * margin)];
    const raster = this.sized(width + 2 * left, height + 2 * top);
    const shifted = { scale: placement.scale, dx: placement.dx + left, dy: placement.dy + top };
    const drawn = raster.draw(this.geometry, shifted, this.looks);
    const bytes = new Uint8ClampedArray(raster.pixels.buffer as ArrayBuffer);
    this.canvas.getContext('2d')?.putImageData(new ImageData(bytes, raster.width, raster.height), 0, 0);
    Object.assign(this.canvas.style, {
      transform: '',
      // The drawn pixel of the view's corner stays put when the drawing is moved or zoomed.
      transformOrigin: `${left / ratio}px ${top / ratio}px`,
      left: `${-left / ratio}px`,
      top: `${-top / ratio}px`,
      width: `${raster.width / ratio}px`,
      height: `${raster.height / ratio}px`,
    });
    this.drawnAt = placement;
    this.counters.draws += 1;
    this.counters.lastDrawn = drawn;
    this.drawnMs = performance.now();
    this.counters.lastDrawMs = this.drawnMs - start;
    this.costsMs = [...this.costsMs.slice(-2), this.counters.lastDrawMs / (1 + 2 * margin) ** 2];
  };

  private sized(width: number, height: number): TraceRaster {
    if (!this.raster || this.raster.width !== width || this.raster.height !== height) {
      this.raster = new TraceRaster(width, height);
      this.canvas.width = width;
      this.canvas.height = height;
    }
    return this.raster;
  }

  /** Where the picture lies on the view now, canvas pixels; trace points count from the centre of the first pixel. */
  private placement(): Placement | undefined {
    const item = this.viewer.world.getItemAt(0);
    if (!item) return undefined;
    const ratio = window.devicePixelRatio || 1;
    const origin = item.imageToViewerElementCoordinates(new OpenSeadragon.Point(0.5, 0.5));
    const far = item.imageToViewerElementCoordinates(new OpenSeadragon.Point(1000.5, 0.5));
    return { scale: ((far.x - origin.x) / 1000) * ratio, dx: origin.x * ratio, dy: origin.y * ratio };
  }
}
