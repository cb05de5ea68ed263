// The question as a sentence to be filled in: what its fields say, and what is wrong with them.

import { FIELDS } from "./address.js";
import { fullName } from "./catalogue.js";
import { plural } from "./figures.js";
import { html } from "./shapes.js";

/** Values that each select has, and the catalogue's patterns. */
export function choicesOf(form, catalogue) {
  const choices = { patterns: patternsOf(catalogue).map(([name]) => name) };
  for (const name of FIELDS) {
    const field = form.elements[name];
    if (field.tagName === "SELECT") choices[name] = [...field.options].map((option) => option.value);
  }
  return choices;
}

function patternsOf(catalogue) {
  const { mains, crosses } = catalogue.frames;
  const counts = new Map();
  mains.forEach((count, frame) => {
    const name = `${count}×${crosses[frame]}`;
    counts.set(name, (counts.get(name) ?? 0) + 1);
  });
  return [...counts].sort(([a], [b]) => parseInt(a, 10) - parseInt(b, 10) || a.localeCompare(b));
}

/** Fill in what depends on the catalogue: zones, patterns, and the names to choose a reference from. */
export function prepare(form, catalogue) {
  for (const zone of Object.keys(catalogue.words.zones)) {
    form.elements.zone.append(html("option", { value: zone }, catalogue.words.zones[zone].place));
  }
  const box = form.querySelector(".patterns");
  for (const [name, count] of patternsOf(catalogue)) {
    const field = html("input", { type: "checkbox", name: "pattern", value: name });
    box.append(
      html(
        "label",
        { class: "chip" },
        field,
        html("span", {}, name, html("span", { class: "unseen" }, `, ${plural(count, "frame")}`)),
      ),
    );
  }
  const names = form.querySelector("datalist");
  form.elements.reference.addEventListener("focus", () => {
    if (names.childElementCount) return;
    names.append(...catalogue.ids.map((id, frame) => html("option", { value: id }, fullName(catalogue, frame))));
  });
}

/** Put a state into the fields. */
export function fill(form, state, catalogue) {
  for (const name of FIELDS) form.elements[name].value = state[name];
  form.elements.reference.value = state.reference < 0 ? "" : catalogue.ids[state.reference];
  for (const box of form.querySelectorAll("[name=pattern]")) box.checked = state.patterns.has(box.value);
  form.elements.basis.value = state.measuredOnly ? "measured" : "any";
  form.elements.fit.checked = state.fit;
}

/** What the fields say, put into the state; a reference nobody knows leaves the one there was. */
export function read(form, state, catalogue) {
  for (const name of FIELDS) state[name] = form.elements[name].value;
  state.patterns = new Set([...form.querySelectorAll("[name=pattern]:checked")].map((box) => box.value));
  state.measuredOnly = form.elements.basis.value === "measured";
  state.fit = form.elements.fit.checked;
  const typed = form.elements.reference.value.trim();
  const frame = typed ? frameCalled(typed, catalogue) : -1;
  if (frame !== null) state.reference = frame;
  return frame === null ? unknownWords(typed, catalogue) : "";
}

function frameCalled(typed, catalogue) {
  const id = typed.toLowerCase();
  if (catalogue.places.has(id)) return catalogue.places.get(id);
  const frame = catalogue.ids.findIndex((_, place) => fullName(catalogue, place).toLowerCase() === id);
  return frame < 0 ? null : frame;
}

function unknownWords(typed, catalogue) {
  const start = typed.toLowerCase().replace(/\s+/g, "-").slice(0, 4);
  const near = catalogue.ids.filter((id) => id.includes(start)).slice(0, 3);
  return `No frame is called “${typed}”.${near.length ? ` Is it ${near.join(", ")}?` : ""}`;
}

/** Show which fields are not understood, and which do not apply. */
export function mark(form, state, wrong, unknown) {
  for (const name of ["head_low", "head_high", "mass_low", "mass_high", "swing_low", "swing_high", "within"]) {
    form.elements[name].setAttribute("aria-invalid", String(wrong.includes(name)));
  }
  form.elements.reference.setAttribute("aria-invalid", String(Boolean(unknown)));
  form.elements.relation.disabled = state.reference < 0;
  form.querySelector(".within").hidden = state.relation !== "like" || state.reference < 0;
  const closest = form.querySelector("option[value=closest]");
  closest.disabled = state.reference < 0 || state.relation === "all";
  const said = [unknown, wrong.length ? "Not understood: give plain numbers, the lower one first." : ""].filter(
    Boolean,
  );
  form.querySelector(".wrong").textContent = said.join(" ");
}
