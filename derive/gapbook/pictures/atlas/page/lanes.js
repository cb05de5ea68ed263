// Lanes: what would overlap on the line stands in rows away from it.

/**
 * The lane of each item (0 nearest the line), an item being a stretch [from, to]; none touches another of its lane. Items
 * that are `left` of the middle are laid from the middle leftwards, then the others rightwards. Returns the lanes in the
 * order of the items, and how many there are.
 */
export function pack(items) {
  const places = items.map((_, place) => place);
  const left = places.filter((place) => items[place].left).sort((a, b) => items[b].to - items[a].to || a - b);
  const right = places.filter((place) => !items[place].left).sort((a, b) => items[a].from - items[b].from || a - b);
  const lanes = new Array(items.length);
  const free = [];
  for (const place of left) {
    const { from, to } = items[place];
    const lane = first(free, (one) => to < one.low);
    free[lane] = { low: from, high: free[lane]?.high ?? to };
    lanes[place] = lane;
  }
  for (const place of right) {
    const { from, to } = items[place];
    const lane = first(free, (one) => from > one.high);
    free[lane] = { low: free[lane]?.low ?? from, high: to };
    lanes[place] = lane;
  }
  return { lanes, count: free.length };
}

function first(free, fits) {
  let lane = 0;
  while (lane < free.length && !fits(free[lane])) lane += 1;
  return lane;
}

/** The lane of each of these places when those within one column of this width stand on each other. */
export function stack(places, wide) {
  const heights = new Map();
  const lanes = places.map((x) => {
    const column = Math.floor(x / wide);
    const lane = heights.get(column) ?? 0;
    heights.set(column, lane + 1);
    return lane;
  });
  return { lanes, count: Math.max(0, ...heights.values()) };
}

/** No fewer lanes than this can hold the items, over a rule of this width. */
export function leastLanes(items, width) {
  let whole = 0;
  for (const { from, to } of items) whole += Math.min(to, width) - Math.max(from, 0);
  return Math.ceil(whole / width);
}
