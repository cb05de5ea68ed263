// Figures as people read them: with their expanded uncertainty, a true minus sign, and no more digits than are known.

/** Expanded uncertainty is so many standard uncertainties (JCGM 100:2008, 6.2). */
export const COVERAGE = 2;
/** Mesh [mm] is a tenth of openness. */
export const MESH = 0.1;

/** Decimals at which an expanded uncertainty has two significant digits, none for ten and more. */
export function decimalsFor(expanded) {
  if (!(expanded > 0) || !Number.isFinite(expanded)) return 2;
  let places = 1 - Math.floor(Math.log10(expanded));
  if (Number(expanded.toFixed(Math.max(places, 0))) >= 10 ** (2 - places)) places -= 1;
  return Math.max(places, 0);
}

/** A number with a true minus sign and no negative zero. */
export function signed(value, decimals, plus = false) {
  const text = Math.abs(value).toFixed(decimals);
  if (Number(text) === 0) return text;
  return (value < 0 ? "−" : plus ? "+" : "") + text;
}

/** `value ± U`, both times `scale`. */
export function withU(value, u, scale = 1, plus = false) {
  const expanded = COVERAGE * u * scale;
  const places = decimalsFor(expanded);
  return `${signed(value * scale, places, plus)} ± ${expanded.toFixed(places)}`;
}

/** A probability in percent, never quite 0 or 100. */
export function percent(probability) {
  if (probability > 0.999) return ">99.9";
  return probability < 0.001 ? "<0.1" : (100 * probability).toFixed(1);
}

/** `1 frame`, `3 frames`. */
export function plural(count, one, many = `${one}s`) {
  return `${count.toLocaleString("en-GB")} ${count === 1 ? one : many}`;
}

/** A head area in whole square inches (halves up). */
export function squareInches(areaCm2, factor) {
  return String(Math.floor(areaCm2 / factor + 0.5 + 1e-9));
}

/** `a, b and c`. */
export function listed(items) {
  return items.length < 2 ? items.join("") : `${items.slice(0, -1).join(", ")} and ${items[items.length - 1]}`;
}
