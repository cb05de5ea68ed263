// Where each frame stands: its mesh along the rule, its side of it, and its lane away from it.

import { column } from "./catalogue.js";
import { COVERAGE, MESH } from "./figures.js";
import { leastLanes, pack, stack } from "./lanes.js";
import { CLASSES } from "./shapes.js";

/** Distance between the rule and the first lane [px]. */
export const CLEAR = 8;
const MOST_NAMED = 300;
const NAME_GAP = 6;
/** On a narrow page [px] names may take more height, since there one scrolls anyway. */
const NARROW = 760;
const ROOM_NARROW = 1.8;
const SPARE = 0.6;
const NAME_FONT = "11.5px system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif";
/** How much is shown of each frame, as room allows: lane height, mark size, and how far a side may reach [px]. */
const DETAILS = [
  { name: "named", lane: 14, mark: 3.5, above: 480, below: 360 },
  { name: "bars", lane: 9, mark: 3, above: 330, below: 240 },
  { name: "thin", lane: 4, mark: 2, above: 330, below: 240 },
  { name: "marks", lane: 5, mark: 1.6, above: 260, below: 200 },
];

/** Every frame of the groups that is known in the zone: its row, mesh and half bar [mm], and whether it hangs. */
export function standingOf(groups, catalogue, state) {
  const shown = groups.filter((group) => group.key !== "unknown");
  const { value, u } = column(catalogue, `openness_${state.zone}`);
  return shown.flatMap((group) => {
    const kind = CLASSES[group.key];
    const hangs = kind === "close" && state.relation !== "like";
    return group.rows.map(({ frame, found, said }) => ({
      frame,
      found,
      said,
      kind,
      hangs,
      id: catalogue.ids[frame],
      measured: catalogue.measured[frame],
      mesh: value[frame] * MESH,
      half: COVERAGE * u[frame] * MESH,
    }));
  });
}

/**
 * Give every frame its place: x and bar [px] by the scale, a lane by first fit, with as much detail as there is room for.
 * Returns that detail and how far each side of the rule reaches [px].
 */
export function lay(standing, scale) {
  for (const one of standing) {
    one.x = scale.x(one.mesh);
    one.from = scale.x(one.mesh - one.half);
    one.to = scale.x(one.mesh + one.half);
  }
  const sides = [standing.filter((one) => !one.hangs), standing.filter((one) => one.hangs)];
  for (const detail of DETAILS) {
    if (detail.name === "marks") return stacked(sides, detail);
    const laid = detail.name === "named" && standing.length > MOST_NAMED ? null : packed(sides, detail, scale.width);
    if (laid) return laid;
  }
  return null;
}

/** Both sides in lanes with this much detail, or null where there is no room for it. */
function packed(sides, detail, width) {
  const room = detail.name === "named" && width < NARROW ? ROOM_NARROW : 1;
  const spare = sides[1].length ? 0 : SPARE * detail.below; // where nothing hangs, the upper side may reach higher
  const most = [detail.above + spare, detail.below].map((height) => Math.floor((room * height) / detail.lane));
  const stretches = sides.map((side) => side.map((one) => stretch(one, detail, width)));
  if (stretches.some((side, number) => leastLanes(side, width) > most[number])) return null;
  const found = stretches.map(pack);
  return found.some(({ count }, number) => count > most[number]) ? null : given(sides, found, detail, detail.lane);
}

/** Marks only, stacked in columns as wide as a mark and as low as they must be. */
function stacked(sides, detail) {
  const wide = 2 * detail.mark + 1;
  const found = sides.map((side) =>
    stack(
      side.map((one) => one.x),
      wide,
    ),
  );
  for (const one of sides.flat()) one.column = (Math.floor(one.x / wide) + 0.5) * wide;
  const [above, below] = found.map(({ count }) => count || 1);
  return given(sides, found, detail, Math.min(detail.lane, detail.above / above, detail.below / below));
}

function given(sides, found, detail, lane) {
  sides.forEach((side, number) => side.forEach((one, place) => (one.lane = found[number].lanes[place])));
  const [above, below] = found.map(({ count }) => count * lane);
  return { ...detail, lane, above: Math.max(above + CLEAR, 30), below: below ? below + CLEAR : 0 };
}

/**
 * The stretch a frame takes up in its lane: its bar, its mark, and where names are shown its name at the outer end of its
 * bar (at the other end where the rule ends).
 */
function stretch(one, detail, width) {
  const left = one.kind === "tight" || (one.kind === "plain" && one.x < width / 2);
  const mark = detail.mark + 1.5;
  const bar = { left, from: Math.min(one.from, one.x - mark) - 1, to: Math.max(one.to, one.x + mark) + 1 };
  if (detail.name !== "named") return bar;
  const wide = nameWidth(one.id) + NAME_GAP;
  const outwards = left ? bar.from - wide >= 0 : bar.to + wide > width;
  one.name = outwards ? { x: bar.from - 3, end: true } : { x: bar.to + 3, end: false };
  return {
    left,
    from: outwards ? bar.from - wide - NAME_GAP : bar.from - NAME_GAP,
    to: outwards ? bar.to : bar.to + wide,
  };
}

const widths = new Map();
let pen = null;

/** How wide a name is [px]. */
export function nameWidth(name) {
  if (!widths.has(name)) {
    pen ??= document.createElement("canvas").getContext("2d");
    pen.font = NAME_FONT;
    widths.set(name, pen.measureText(name).width * 1.04);
  }
  return widths.get(name);
}
