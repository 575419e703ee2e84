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
  if (field.kind === "tick") return choice("checkbox", id, field.name, "yes", field.label, value === "yes");
  const box = field.kind === "text"
    ? h("textarea", { id, name: field.name, rows: 4, maxlength: 2000 }, value)
    : h("input", { id, name: field.name, value, autocomplete: "off", maxlength: 500, inputmode: field.digits ? "numeric" : null, placeholder: field.hint });
  return h("p", {}, h("label", { for: id }, field.label), box);
}

const choice = (type, id, name, value, words, checked) => h("p", { class: "choice" }, h("input", { type, id, name, value, checked }), h("label", { for: id }, words));
