// The rule itself: which meshes it reaches over, and its two scales.

import { column } from "./catalogue.js";
import { COVERAGE, MESH } from "./figures.js";

const MM_STEPS = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10];
const FINEST_PX = 6;
const LABEL_PX = 46;

/** The meshes [mm] over which these frames spread, measured ones with their uncertainty. */
export function reach(catalogue, zone, frames) {
  let low = Infinity;
  let high = -Infinity;
  const { value, u } = column(catalogue, `openness_${zone}`);
  for (const frame of frames) {
    if (value[frame] == null) continue;
    const beyond = catalogue.measured[frame] ? COVERAGE * u[frame] : u[frame];
    low = Math.min(low, (value[frame] - beyond) * MESH);
    high = Math.max(high, (value[frame] + beyond) * MESH);
  }
  if (low > high) return { low: 9, high: 14 };
  const room = Math.max(0.15, 0.02 * (high - low));
  return { low: Math.max(0.5, low - room), high: high + room };
}

/** From mesh [mm] to pixels over `width`. */
export function scaleOver({ low, high }, width) {
  const pixels = width / (high - low);
  return { low, high, width, pixels, x: (mesh) => (mesh - low) * pixels };
}

/** Ticks of the mm scale: fine, and those with a number. */
export function millimetres(scale) {
  const fine = MM_STEPS.find((step) => step * scale.pixels >= FINEST_PX) ?? 10;
  const labelled = MM_STEPS.find((step) => step * scale.pixels >= LABEL_PX && isMultiple(step, fine)) ?? 10;
  return {
    fine: multiples(fine, scale),
    labelled: multiples(labelled, scale),
    decimals: labelled >= 1 ? 0 : labelled >= 0.1 ? 1 : 2,
  };
}

/** Ticks of the second scale: how many gaps fit into one ball width [mm]. */
export function gapsInBall(scale, ball) {
  const ticks = [];
  for (let quarter = 8; quarter <= 80; quarter += 1) {
    const mesh = ball / (quarter / 4);
    if (mesh < scale.low || mesh > scale.high) continue;
    ticks.push({ x: scale.x(mesh), gaps: quarter / 4, whole: quarter % 4 === 0, half: quarter % 4 === 2 });
  }
  return ticks;
}

function isMultiple(step, of) {
  const times = step / of;
  return Math.abs(times - Math.round(times)) < 1e-9;
}

function multiples(step, { low, high }) {
  const found = [];
  for (let k = Math.ceil(low / step); k * step <= high; k += 1) found.push(k * step);
  return found;
}
