// One bed against another, mesh by mesh, as in science/bed_geometry.py: the size of each mesh less that of the other bed over
// the same place, with its uncertainty.

import { COVERAGE } from "./figures.js";

/** Strings must cover this part of a mesh, else the other bed is not known there. */
const LEAST_COVERED = 0.8;

/** Every mesh of `bed`: its corners [x, y], its size, and the difference from `other` with its u; null if that is not known. */
export function differencesOf(bed, other) {
  const at = ({ mains, slopes }, place, y) => mains[place] + slopes[place] * y;
  const rising = [...other.crosses].reverse();
  const found = [];
  for (let main = 0; main + 1 < bed.mains.length; main += 1) {
    for (let cross = 0; cross + 1 < bed.crosses.length; cross += 1) {
      const [upper, lower] = [bed.crosses[cross], bed.crosses[cross + 1]];
      const corners = [[main, upper], [main + 1, upper], [main + 1, lower], [main, lower]].map(([one, y]) => [at(bed, one, y), y]);
      const ends = [(corners[0][0] + corners[3][0]) / 2, (corners[1][0] + corners[2][0]) / 2];
      const middle = (upper + lower) / 2;
      const across = pitchBetween(other.mains.map((_, place) => at(other, place, middle)), ...ends);
      const along = pitchBetween(rising, lower, upper);
      const [wide, high] = [ends[1] - ends[0], upper - lower];
      const size = Math.sqrt(wide * high);
      const over = across === null || along === null ? null : Math.sqrt(across * along);
      const relative = (one) => Math.hypot(one.uMain / wide, one.uCross / high) / 2;
      const difference = over === null ? null : size - over;
      const u = over === null ? null : Math.hypot(size * relative(bed), over * relative(other));
      found.push({ corners, size, difference, u, decided: over !== null && Math.abs(difference) > COVERAGE * u });
    }
  }
  return found;
}

/** Pitch of rising places from `low` to `high`; null if they cover less than LEAST_COVERED of this stretch. */
function pitchBetween(places, low, high) {
  const first = Math.max(low, places[0]);
  const last = Math.min(high, places[places.length - 1]);
  if (last - first < LEAST_COVERED * (high - low)) return null;
  return (last - first) / (indexOf(places, last) - indexOf(places, first));
}

function indexOf(places, at) {
  let below = 0;
  while (below + 2 < places.length && places[below + 1] <= at) below += 1;
  return below + (at - places[below]) / (places[below + 1] - places[below]);
}
