// SVG by hand, and the shapes that stand for verdicts: they differ in form and filling, never by colour alone.

const SVG = "http://www.w3.org/2000/svg";

/** An SVG element with attributes and children (elements or text). */
export function svg(name, attributes = {}, ...children) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) if (value !== null) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

/** An HTML element with attributes and children (elements or text). */
export function html(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes))
    if (value !== null && value !== false) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

/** Names of the classes of the groups' marks. */
export const CLASSES = {
  tighter: "tight",
  "too close to call": "close",
  "more open": "wide",
  like: "close",
  unlike: "close",
  undecided: "close",
  every: "plain",
  unknown: "plain",
};

const n = (value) => Math.round(10 * value) / 10;

/** The outline of a mark at x, y: a full square is tighter, an open one more open, a lozenge too close, a disc no verdict. */
export function markPath(kind, x, y, r) {
  if (kind === "tight") return `M${n(x - r)} ${n(y - r)}h${2 * r}v${2 * r}h${-2 * r}z`;
  if (kind === "wide") return `M${n(x - r)} ${n(y - r)}h${2 * r}v${2 * r}h${-2 * r}z`;
  if (kind === "close")
    return `M${n(x - 1.4 * r)} ${n(y)}l${1.4 * r} ${-1.4 * r} ${1.4 * r} ${1.4 * r} ${-1.4 * r} ${1.4 * r}z`;
  return `M${n(x - r)} ${n(y)}a${r} ${r} 0 1 1 ${2 * r} 0a${r} ${r} 0 1 1 ${-2 * r} 0z`;
}

/** A mark on its own, for rows and keys. */
export function markIcon(key) {
  const kind = CLASSES[key];
  const icon = svg("svg", { class: "icon", viewBox: "0 0 14 14", width: 14, height: 14, "aria-hidden": "true" });
  icon.append(svg("path", { class: `mark ${kind}`, d: markPath(kind, 7, 7, 3.6) }));
  return icon;
}

/** Letters by which laid-out beds are told apart. */
export const LETTERS = ["A", "B", "C"];
