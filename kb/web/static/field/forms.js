// A task's form on the screen: large choices, faults told all at once beside their fields.
import { h } from "./dom.js";

/** The form; `store(values)` returns the faults by field, and goes on itself where there are none. */
export function form(fields, values, store) {
  const faults = h("div", { class: "faults", role: "alert", tabindex: "-1", hidden: true });
  const made = h("form", {
    novalidate: true,
    async onsubmit(event) {
      event.preventDefault();
      const typed = Object.fromEntries(new FormData(made));
      const found = await store(typed);
      const lines = Object.entries(found ?? {});
      faults.hidden = !lines.length;
      faults.replaceChildren(h("h2", {}, "Please check"), h("ul", {}, lines.map(([name, words]) => h("li", {}, h("a", { href: `#${name}`, onclick: (click) => { click.preventDefault(); made.querySelector(`[name="${name}"]`)?.focus(); } }, words)))));
      if (lines.length) faults.focus();
    },
  }, fields.map((field) => show(field, values[field.name] ?? "")),
  show({ kind: "line", name: "happened", label: "When, if not just now", hint: "hours:minutes", digits: true }, values.happened ?? ""),
  h("p", {}, h("button", { class: "main" }, "Store on this phone")));
  return [faults, made];
}

function show(field, value) {
  const id = `f-${field.name}`;
  if (field.kind === "pick") {
    return field.options.length ? h("fieldset", {}, h("legend", {}, field.legend), field.options.map(([option, words], at) => choice("radio", `${id}-${at}`, field.name, option, words, option === value))) : null;
  }
  if (field.kind === "file") return h("p", {}, h("label", { for: id }, field.label), h("input", { id, name: field.name, type: "file", accept: "image/*", capture: "environment" }));
  if (field.kind === "tick") return choice("checkbox", id, field.name, "yes", field.label, value === "yes");
  const box = field.kind === "text"
    ? h("textarea", { id, name: field.name, rows: 4, maxlength: 2000 }, value)
    : h("input", { id, name: field.name, value, autocomplete: "off", maxlength: 500, inputmode: field.digits ? "numeric" : null, placeholder: field.hint });
  return h("p", {}, h("label", { for: id }, field.label), box);
}

const choice = (type, id, name, value, words, checked) => h("p", { class: "choice" }, h("input", { type, id, name, value, checked }), h("label", { for: id }, words));

const LONGEST_SIDE = 1280;
const MOST_BYTES = 220_000;

/** A picture drawn anew: smaller, and without what a camera writes beside it. Its name is its SHA-256. */
export async function drawn(file) {
  const read = await createImageBitmap(file);
  const scale = Math.min(1, LONGEST_SIDE / Math.max(read.width, read.height));
  const canvas = new OffscreenCanvas(Math.round(read.width * scale), Math.round(read.height * scale));
  canvas.getContext("2d").drawImage(read, 0, 0, canvas.width, canvas.height);
  for (const quality of [0.8, 0.6, 0.4, 0.2]) {
    const blob = await canvas.convertToBlob({ type: "image/jpeg", quality });
    if (blob.size > MOST_BYTES && quality > 0.2) continue;
    const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", await blob.arrayBuffer()));
    return { blob, name: [...hash].map((byte) => byte.toString(16).padStart(2, "0")).join("") };
  }
  return null;
}
