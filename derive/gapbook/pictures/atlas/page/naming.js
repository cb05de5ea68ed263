// The names by which frames can be called.

import { fullName, isOwn } from "./catalogue.js";

/** The names by which frames can be called, each with its place, or null if it is that of several. */
export function namesOf(catalogue) {
  const names = new Map();
  const add = (name, frame) => {
    const key = spelt(name);
    if (key && /[a-z]/.test(key)) names.set(key, names.has(key) && names.get(key) !== frame ? null : frame);
  };
  const { maker, model, edition } = catalogue.frames;
  for (let frame = 0; frame < catalogue.count; frame += 1) {
    if (edition[frame] !== "club" || /club/i.test(model[frame] ?? "")) add(model[frame] ?? "", frame);
    else add(`${model[frame]} club`, frame);
    add(fullName(catalogue, frame), frame);
    if (edition[frame] !== "club") add(`${maker[frame] ?? ""} ${model[frame] ?? ""}`, frame);
  }
  catalogue.ids.forEach((id, frame) => !isOwn(catalogue, frame) && names.set(spelt(id), frame));
  names.set("your bed", catalogue.own.place).set("my bed", catalogue.own.place);
  return names;
}

/** A name as names are compared: small letters and numbers, with one space between words. */
export function spelt(name) {
  return name
    .toLowerCase()
    .replace(/(\d+)[x×](\d+)/g, "$1x$2")
    .replace(/([a-z])(\d)/g, (all, letter, digit) => (letter === "x" ? all : `${letter} ${digit}`))
    .replace(/[^a-z0-9]+/g, " ")
    .trim();
}

/** The place of the frame that is called so, or null. */
export function frameCalled(typed, names) {
  return names.get(spelt(typed)) ?? null;
}
