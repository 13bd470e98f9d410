import type { Forms } from '../api';

/** A value with two significant digits of its uncertainty, as the report prints it. */
export function printed({ value, u }: Forms['ValueForm']): string {
  if (!(u > 0)) return String(Number(value.toPrecision(6)));
  const exponent = Number(u.toExponential(1).split('e')[1]);
  const decimals = Math.max(0, 1 - exponent);
  return `${value.toFixed(decimals)} ± ${u.toFixed(decimals)}`;
}
