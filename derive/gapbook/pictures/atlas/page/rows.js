// The frames in order, as a table; of a long one only the rows in view are made.

import { figure, isOwn, pattern } from "./catalogue.js";
import { MESH, percent, plural, signed, squareInches, withU } from "./figures.js";
import { html, LETTERS, markIcon } from "./shapes.js";

const WHOLE = 300;
const BEYOND = 8;
/** Height of a row [px]: on a phone a finger's breadth; as in atlas.css. */
const ROW = matchMedia("(max-width: 620px)").matches ? 44 : 30;
/** Height of a long table's box, as a share of the window's; as in atlas.css. */
const HIGH = 0.8;

/** The table's entries: a heading for each group, then its frames. */
export function entriesOf(groups) {
  return groups.flatMap((group) => [{ heading: group }, ...group.rows.map((row) => ({ row, key: group.key }))]);
}

/** Rows of a table in a scrolling box; `show` lays entries out anew, `refresh` makes the rows in view again. */
export class Rows {
  constructor(table, box, catalogue) {
    Object.assign(this, { table, box, catalogue, entries: [], laid: [], state: null, at: 0, whole: false });
    this.span = [0, 0];
    this.top = 0;
    box.addEventListener("scroll", () => this.scrolled(), { passive: true });
  }

  get long() {
    return !this.whole && this.entries.length > WHOLE;
  }

  scrolled() {
    this.top = this.box.scrollTop;
    if (this.long) this.refresh(false);
  }

  /** Scroll to a place [px], unless the box is there already: to read or set a box's place costs a layout. */
  scrollTo(top) {
    if (this.top !== top) this.box.scrollTop = this.top = top;
  }

  show(groups, state, laid) {
    Object.assign(this, { entries: entriesOf(groups), state, laid });
    this.at = Math.max(
      0,
      this.entries.findIndex((entry) => entry.row && entry.row.frame === state.look),
    );
    if (!this.entries[this.at]?.row) this.at = this.entries.findIndex((entry) => entry.row);
    this.table.classList.toggle("against", state.reference >= 0);
    this.table.setAttribute("aria-rowcount", this.entries.length + 1);
    this.box.classList.toggle("long", this.long);
    if (this.long) this.scrollTo(0);
    this.refresh(true);
  }

  /** The first and last entry to make. */
  range() {
    if (!this.long) return [0, Math.min(this.entries.length, this.whole ? WHOLE : Infinity)];
    const first = Math.max(0, Math.floor(this.top / ROW) - BEYOND);
    return [first, Math.min(this.entries.length, first + Math.ceil((HIGH * innerHeight) / ROW) + 2 * BEYOND)];
  }

  refresh(anew) {
    const [first, last] = this.range();
    if (!anew && first === this.span[0] && last === this.span[1]) return;
    this.span = [first, last];
    const bodies = [];
    if (first > 0) bodies.push(spacer(first * ROW));
    let body = null;
    for (let place = first; place < last; place += 1) {
      const entry = this.entries[place];
      if (entry.heading || !body) bodies.push((body = html("tbody")));
      body.append(entry.heading ? this.headingRow(entry.heading, place) : this.frameRow(entry, place));
    }
    if (last < this.entries.length)
      bodies.push(this.whole ? this.more(this.entries.length - last) : spacer((this.entries.length - last) * ROW));
    const held = this.table.contains(document.activeElement) ? document.activeElement.dataset.frame : undefined;
    const old = [...this.table.tBodies]; // they go last: a table that shrinks meanwhile would scroll back
    this.table.append(...bodies);
    old.forEach((one) => one.remove());
    if (!this.table.querySelector("button[tabindex='0']"))
      this.table.querySelector("button")?.setAttribute("tabindex", 0);
    if (held === undefined) return;
    this.buttonOf(anew ? this.entries[this.at]?.row.frame : held)?.focus({ preventScroll: true });
  }

  headingRow(group, place) {
    const cell = html(
      "th",
      { colspan: 6, scope: "rowgroup" },
      group.key === "unknown" ? "" : markIcon(group.key),
      `${group.title} `,
    );
    cell.append(html("span", { class: "count" }, plural(group.rows.length, "frame")));
    return html("tr", { class: "group", "aria-rowindex": place + 2 }, cell);
  }

  frameRow({ row, key }, place) {
    const { catalogue, state } = this;
    const { frame, found } = row;
    const mesh = figure(catalogue, frame, `openness_${state.zone}`);
    const letter = LETTERS[this.laid.indexOf(frame)];
    const button = html("button", {
      type: "button",
      "data-frame": frame,
      tabindex: place === this.at ? 0 : -1,
      "aria-pressed": String(Boolean(letter)),
    });
    button.append(
      catalogue.ids[frame],
      ...(catalogue.measured[frame]
        ? []
        : [html("span", { class: "star" }, "*", html("span", { class: "unseen" }, " counted only"))]),
    );
    const name = html("th", { scope: "row" }, key === "unknown" ? "" : markIcon(key), button);
    if (letter) name.append(html("span", { class: `tag bed-${letter}`, "aria-hidden": "true" }, letter));
    const cells = [
      pattern(catalogue, frame),
      isOwn(catalogue, frame) ? "–" : squareInches(catalogue.frames.head_area_cm2[frame], catalogue.words.factors["[sin_i]"]),
      mesh ? withU(mesh.value, mesh.u, MESH) : "not known",
      found ? signed(found.percent, 1, true) : "",
      ...(found ? [] : [""]),
    ];
    const made = html("tr", { class: letter ? "laid-out" : null, "aria-rowindex": place + 2, "data-key": key }, name);
    made.append(...cells.map((text, column) => html("td", { class: `c${column}` }, text)));
    if (found) made.append(html("td", { class: "c4" }, ...sureParts(found)));
    return made;
  }

  more(count) {
    return html(
      "tbody",
      {},
      html("tr", {}, html("td", { colspan: 6 }, `and ${plural(count, "row")} more: ask for less`)),
    );
  }

  /** Move to the frame `step` rows on (or to an end); returns it. */
  move(step) {
    const frames = this.entries.map((entry, place) => (entry.row ? place : -1)).filter((place) => place >= 0);
    const here = frames.indexOf(this.at);
    const there = frames[Math.max(0, Math.min(frames.length - 1, here + step))];
    return there === undefined ? null : this.goTo(there);
  }

  goTo(place) {
    this.at = place;
    if (this.long) {
      const top = place * ROW;
      const high = Math.floor(HIGH * innerHeight);
      if (top < this.top + ROW) this.scrollTo(Math.max(0, top - ROW));
      else if (top > this.top + high - 2 * ROW) this.scrollTo(top - high + 3 * ROW);
    }
    return this.entries[place].row.frame;
  }

  buttonOf(frame) {
    return this.table.querySelector(`button[data-frame="${frame}"]`);
  }

  focus() {
    this.refresh(true);
    this.buttonOf(this.entries[this.at].row.frame)?.focus({ preventScroll: this.long });
  }
}

/** How sure it is which of two is tighter, in words. */
export function sureWords(found) {
  return found.tighter >= 0.5 ? `${percent(found.tighter)} % tighter` : `${percent(1 - found.tighter)} % more open`;
}

/** The same in a cell: if room is short an arrow replaces the words. */
function sureParts(found) {
  const tighter = found.tighter >= 0.5;
  const number = `${percent(tighter ? found.tighter : 1 - found.tighter)} %`;
  return [
    html("span", { class: "arrow", "aria-hidden": "true" }, tighter ? "← " : "→ "),
    number,
    html("span", { class: "way" }, tighter ? " tighter" : " more open"),
  ];
}

function spacer(height) {
  const body = html("tbody", { "aria-hidden": "true" }, html("tr", {}, html("td", { colspan: 6 })));
  body.firstChild.style.height = `${height}px`;
  return body;
}
