// A bed of one's own from what was typed: marks or gaps across one ball width of mains and of crosses. The arithmetic is that
// of science/pitches.py and science/uncertainty.py for one reading of each string; tests/cases/own_beds.json holds both to it.

const SHORTEST_MM = 4;
const LONGEST_MM = 30;
const MOST_NUMBERS = 40;
const PLAIN = /^\d{1,4}(?:[.,]\d{1,4})?$/;

/** What a text of numbers says: {kind, values}, {problem}, or null for an empty text. Marks rise, gaps do not. */
export function readingsOf(text) {
  const words = text.trim().split(/\s+/).filter(Boolean);
  if (!words.length) return null;
  const odd = words.find((word) => !PLAIN.test(word));
  if (odd || words.length > MOST_NUMBERS) return { problem: odd ? `“${odd}” is no plain number` : `more than ${MOST_NUMBERS} numbers` };
  const values = words.map((word) => Number(word.replace(",", ".")));
  const fits = (gap) => gap >= SHORTEST_MM && gap <= LONGEST_MM;
  const steps = values.slice(1).map((value, place) => value - values[place]);
  const [marks, gaps] = [steps.length > 0 && steps.every(fits), values.every(fits)];
  if (marks) return { kind: "mark", values };
  if (gaps) return { kind: "gap", values };
  return { problem: `gaps lie between ${SHORTEST_MM} and ${LONGEST_MM} mm, and marks rise by as much` };
}

/**
 * A family of strings: the logarithm of its pitch over the window, its coverage, and the parts of its uncertainty: the
 * independent variance, and the change by the error of the instrument and by that of the person, each of one standard
 * uncertainty.
 */
export function familyOf({ kind, values }, originMm, rules) {
  const points = kind === "mark" ? values : values.reduce((all, gap) => [...all, all[all.length - 1] + gap], [0]);
  const last = points.length - 1;
  const middle = (points[0] + points[last]) / 2;
  const places = points.map((point) => point - middle);
  const [low, high] = [-1, 1].map((side) => indexAt(places, (side * rules.ball) / 2));
  const [covered, number] = [high.end - low.end, high.number - low.number];
  const gradient = places.map(() => 0);
  for (const [side, sign] of [[high, 1], [low, -1]]) {
    gradient[side.string] += sign * (side.endBelow / covered - side.indexBelow / number);
    if (side.indexAbove) gradient[side.string + 1] -= (sign * side.indexAbove) / number;
  }
  const pull = gradient.reduce((sum, one) => sum + one, 0);
  gradient[0] -= pull / 2;
  gradient[last] -= pull / 2;
  const squares = gradient.reduce((sum, one) => sum + one * one, 0);
  const reading = rules[kind];
  const read = kind === "mark" ? squares : gapsSquared(gradient);
  const span = places[last] - places[0];
  const grown = gradient.reduce((sum, one, place) => sum + one * place, 0);
  const stretched = gradient.reduce((sum, one, place) => sum + (one * places[place]) / span, 0);
  const moved = kind === "mark" ? [stretched, stretched * last] : [grown, grown];
  return {
    log: Math.log(covered / number),
    coverage: covered / rules.ball,
    variance: rules.placement ** 2 * squares + reading.variance * read + (originMm * pull) ** 2,
    instrument: moved[0] * reading.instrument,
    person: moved[1] * rules.person,
    gaps: last,
  };
}

/** Gap k moves every string after it. */
function gapsSquared(gradient) {
  let before = 0;
  let squares = 0;
  for (const one of gradient.slice(0, -1)) {
    before += one;
    squares += before * before;
  }
  return squares;
}

/** Where an end of the window lies among the strings, as a fractional index, and how that depends on them. */
function indexAt(places, end) {
  const last = places.length - 1;
  const below = places.filter((place) => place <= end).length;
  if (below < 1 || below > last) {
    const outer = below < 1 ? 0 : last;
    return { number: outer, end: places[outer], string: outer, indexBelow: 0, indexAbove: 0, endBelow: 1 };
  }
  const string = below - 1;
  const gap = places[string + 1] - places[string];
  const part = (end - places[string]) / gap;
  return { number: string + part, end, string, indexBelow: (part - 1) / gap, indexAbove: -part / gap, endBelow: 0 };
}

/**
 * The openness of a bed in the centre from the readings of its mains and crosses, with its standard uncertainty, or a
 * problem. Errors of the instrument and of the person are common to both families if both were read alike.
 */
export function ownOpenness(mains, crosses, rules) {
  const main = familyOf(mains, rules.origin[0], rules);
  const cross = familyOf(crosses, rules.origin[1], rules);
  const least = Math.min(main.coverage, cross.coverage);
  if (!(least >= rules.coverage)) return { coverage: least };
  const together = (name) =>
    mains.kind === crosses.kind || name === "person"
      ? (main[name] + cross[name]) ** 2
      : main[name] ** 2 + cross[name] ** 2;
  const variance = main.variance + cross.variance + together("instrument") + together("person");
  const value = 10 * Math.exp((main.log + cross.log) / 2);
  return { value, u: (value * Math.sqrt(variance)) / 2, coverage: least, gaps: [main.gaps, cross.gaps] };
}
