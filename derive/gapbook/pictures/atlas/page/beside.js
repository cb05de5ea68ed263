// Laid-out beds side by side: their figures with ±.

import { figure, fullName, isOwn, pattern } from "./catalogue.js";
import { contrast, verdict, why } from "./compare.js";
import { COVERAGE, MESH, plural, signed, squareInches, withU } from "./figures.js";
import { sureWords } from "./rows.js";
import { html, LETTERS } from "./shapes.js";
import { PARTS } from "./why.js";

/** The table of figures of the laid-out frames. */
export function besideTable(catalogue, state, laid) {
  const table = html("table", { class: "beside" });
  const head = html("tr", {}, html("td"));
  laid.forEach((frame, number) => head.append(heading(catalogue, frame, LETTERS[number])));
  table.append(
    html("caption", { class: "unseen" }, `Figures of the beds laid out, ± at k = ${COVERAGE}`),
    html("thead", {}, head),
  );
  for (const [title, rows] of sections(catalogue, state, laid)) {
    const body = html("tbody");
    if (title)
      body.append(html("tr", { class: "title" }, html("th", { scope: "rowgroup", colspan: laid.length + 1 }, title)));
    for (const [name, of] of rows) {
      const cells = laid.map((frame) => of(frame) ?? "not known");
      if (cells.some((text) => text !== "not known" && text !== "—"))
        body.append(html("tr", {}, html("th", { scope: "row" }, name), ...cells.map((text) => html("td", {}, text))));
    }
    if (body.childElementCount > (title ? 1 : 0)) table.append(body);
  }
  return table;
}

function heading(catalogue, frame, letter) {
  const cell = html("th", { scope: "col" });
  cell.append(
    html("span", { class: `tag bed-${letter}` }, letter),
    " ",
    html("span", { class: "full" }, fullName(catalogue, frame)),
    html("span", { class: "id" }, catalogue.ids[frame]),
  );
  return cell;
}

function sections(catalogue, state, laid) {
  const zones = Object.keys(catalogue.words.zones);
  const told =
    (name, scale = 1, plus = false, decimals = 0) =>
    (frame) => {
      const found = figure(catalogue, frame, name);
      if (found) return withU(found.value, found.u, scale, plus);
      const value = catalogue.frames[name]?.[frame] ?? null;
      return value === null ? null : signed(value * scale, decimals, plus);
    };
  const rowsOf = (part) =>
    catalogue.rows
      .filter((row) => row.part === part)
      .map((row) => [row.name, told(row.column, row.scale, row.signed, row.decimals)]);
  const place = (zone) => catalogue.words.zones[zone].place;
  const found = [
    [
      "",
      [
        ["strings", (frame) => pattern(catalogue, frame)],
        ["head", (frame) => headWords(catalogue, frame)],
        [
          "bed",
          (frame) =>
            isOwn(catalogue, frame)
              ? "as you typed it"
              : catalogue.measured[frame]
              ? `measured, ${plural(catalogue.frames.specimens[frame], "copy", "copies")}`
              : "counted: an estimate",
        ],
      ],
    ],
    ["Mesh, mm", zones.map((zone) => [place(zone), told(`openness_${zone}`, MESH)])],
    [
      "Bed",
      [
        ...rowsOf("bed"),
        ["stiffness, N/mm, a model", told("stiffness_centre_n_per_mm")],
      ],
    ],
    [
      "Strung",
      [
        ...rowsOf("strung"),
        ["these are", (frame) => catalogue.frames.handling_basis?.[frame] ?? null],
      ],
    ],
  ];
  const others = laid.some((frame) => frame !== state.reference);
  if (state.reference >= 0 && others)
    found.splice(1, 0, [
      `Against ${catalogue.ids[state.reference]}, ${place(state.zone)}`,
      againstRows(catalogue, state),
    ]);
  return found;
}

function headWords(catalogue, frame) {
  const area = catalogue.frames.head_area_cm2[frame];
  if (area === null) return null;
  return `${squareInches(area, catalogue.words.factors["[sin_i]"])} sq in (${area.toFixed(0)} cm²)`;
}

function againstRows(catalogue, state) {
  const other = (of) => (frame) => {
    if (frame === state.reference) return "—";
    const found = contrast(catalogue, frame, state.reference, state.zone);
    return found && of(found, frame);
  };
  const part = (key) =>
    other((_, frame) => {
      const found = why(catalogue, frame, state.reference, state.zone)?.[key];
      return found ? (found.u > 0 ? withU(found.percent, found.u, 1, true) : signed(found.percent, 1, true)) : null;
    });
  return [
    ["verdict", other((found) => verdict(found, Number(state.confidence) / 100))],
    ["sure", other(sureWords)],
    ["mesh differs by, %", other((found) => withU(found.percent, found.uPercent, 1, true))],
    ...PARTS.map(([key, title]) => [`due to ${title}, %`, part(key)]),
  ];
}
