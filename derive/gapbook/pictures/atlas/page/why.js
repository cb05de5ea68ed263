// Why beds differ from the reference: parts of the difference as bars about the middle line.

import { contrast, why } from "./compare.js";
import { COVERAGE, signed } from "./figures.js";
import { LETTERS, svg } from "./shapes.js";

const WIDTH = 340;
const LABEL = 98;
const BAR = 11;
const GAP = 14;
/** Parts in the order they are shown, with their titles. */
export const PARTS = [
  ["size", "head size"],
  ["count", "string count"],
  ["drilling", "drilling"],
  ["zone", "zone"],
];

/** The parts of each laid bed's difference from the reference, and the whole of it, in hundredths of a logarithm. */
export function partsOf(catalogue, laid, reference, zone) {
  return laid
    .map((frame, number) => ({ frame, letter: LETTERS[number] }))
    .filter(({ frame }) => frame !== reference)
    .map((one) => {
      const whole = contrast(catalogue, one.frame, reference, zone);
      const total = whole ? { percent: 100 * whole.log, u: 100 * whole.u } : null;
      return { ...one, total, parts: why(catalogue, one.frame, reference, zone) };
    });
}

/** A picture of the parts; null if there is nothing to compare. */
export function whyPicture(catalogue, laid, reference, zone) {
  const beds = partsOf(catalogue, laid, reference, zone).filter((one) => one.total);
  if (!beds.length) return null;
  const shown = PARTS.filter(([key]) => key !== "zone" || beds.some((one) => one.parts?.zone));
  const rows = [
    ...shown.map(([key, title]) => ({ title, of: (one) => one.parts?.[key] ?? null })),
    { title: "all together", of: (one) => one.total, whole: true },
  ];
  const ends = beds
    .flatMap((one) => rows.map((row) => row.of(one)))
    .filter(Boolean)
    .map((part) => Math.abs(part.percent) + COVERAGE * part.u);
  const most = Math.max(2, ...ends) * (beds.length > 1 ? 1.2 : 1.05);
  const x = (value) => LABEL + ((value / most + 1) / 2) * (WIDTH - LABEL - 8);
  const step = beds.length * BAR + GAP;
  const height = rows.length * step + 40;
  const made = svg("svg", {
    class: "why",
    viewBox: `0 0 ${WIDTH} ${height}`,
    role: "img",
    "aria-label": `Parts of the difference from ${catalogue.ids[reference]}, in percent; the table below has the figures`,
  });
  made.append(...axis(x, most, height));
  rows.forEach((row, place) => made.append(...rowOf(row, beds, x, 10 + place * step)));
  return made;
}

function rowOf(row, beds, x, y) {
  const middle = y + (beds.length * BAR) / 2;
  const made = [
    svg("text", { class: row.whole ? "whole" : null, x: LABEL - 8, y: middle + 4, "text-anchor": "end" }, row.title),
  ];
  beds.forEach((one, number) => {
    const part = row.of(one);
    const top = y + number * BAR;
    if (!part) {
      made.push(
        svg(
          "text",
          { class: "quiet", x: x(0) + 5, y: top + 9 },
          `${beds.length > 1 ? `${one.letter}: ` : ""}not known`,
        ),
      );
      return;
    }
    const [from, to] = [x(Math.min(0, part.percent)), x(Math.max(0, part.percent))];
    made.push(
      svg("rect", {
        class: `part bed-${one.letter}`,
        x: from.toFixed(1),
        y: top + 1,
        width: Math.max(to - from, 0.8).toFixed(1),
        height: BAR - 2,
      }),
    );
    const [low, high] = [x(part.percent - COVERAGE * part.u), x(part.percent + COVERAGE * part.u)];
    if (part.u > 0)
      made.push(svg("path", { class: "whisker", d: `M${low.toFixed(1)} ${top + BAR / 2}H${high.toFixed(1)}` }));
    if (beds.length > 1)
      made.push(
        svg(
          "text",
          {
            class: "who",
            x: (part.percent < 0 ? Math.min(low, from) - 4 : Math.max(high, to) + 4).toFixed(1),
            y: top + 9,
            "text-anchor": part.percent < 0 ? "end" : "start",
          },
          one.letter,
        ),
      );
  });
  return made;
}

function axis(x, most, height) {
  const step = [0.5, 1, 2, 5, 10, 20, 50].find((one) => most / one <= 4) ?? 100;
  const made = [];
  for (let value = -Math.floor(most / step) * step; value <= most; value += step) {
    made.push(
      svg("line", { class: value === 0 ? "zero" : "grid", x1: x(value), x2: x(value), y1: 4, y2: height - 34 }),
    );
    made.push(
      svg(
        "text",
        { class: "quiet", x: x(value), y: height - 22, "text-anchor": "middle" },
        signed(value, step < 1 ? 1 : 0, true),
      ),
    );
  }
  made.push(svg("text", { class: "quiet", x: x(0) - 26, y: height - 5, "text-anchor": "end" }, "← tighter"));
  made.push(svg("text", { class: "quiet", x: x(0), y: height - 5, "text-anchor": "middle" }, "%"));
  made.push(svg("text", { class: "quiet", x: x(0) + 26, y: height - 5 }, "more open →"));
  return made;
}
