/** A scale bar: its length on screen and what it says. */
export interface ScaleBar {
  readonly widthPx: number;
  readonly label: string;
}

/**
 * The longest bar of 1, 2 or 5 × a power of ten that fits.
 *
 * @param screenPxPerPicturePx zoom, screen pixels per picture pixel
 * @param umPerPx micrometres per picture pixel; without a scale the bar counts picture pixels
 * @param fitPx most screen pixels the bar may take
 */
export function scaleBar(screenPxPerPicturePx: number, umPerPx: number | null, fitPx: number): ScaleBar {
  const perScreenPx = (umPerPx ?? 1) / screenPxPerPicturePx;
  const most = fitPx * perScreenPx;
  const decade = 10 ** Math.floor(Math.log10(most));
  const length = decade * (most / decade >= 5 ? 5 : most / decade >= 2 ? 2 : 1);
  return { widthPx: length / perScreenPx, label: umPerPx === null ? pixels(length) : micrometres(length) };
}

function pixels(length: number): string {
  return `${Number(length.toPrecision(1))} px (no scale)`;
}

function micrometres(length: number): string {
  return length >= 1000 ? `${Number((length / 1000).toPrecision(1))} mm` : `${Number(length.toPrecision(1))} µm`;
}
