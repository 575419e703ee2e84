// Making elements. Text is always text; HTML comes from the library's own pages alone.

/** An element: attributes (`on…` are listeners, false and null are left out), then its children. */
export function h(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children.flat(9).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

/** A block of the library's rendered text. */
export function text(html, language = "en") {
  const block = h("div", { class: "text", lang: language === "en" ? null : language });
  block.innerHTML = html;
  return block;
}

/** The stop line, in both languages. */
export function stopLine(of) {
  const other = of.language === "es";
  return [
    of.stop && h("p", { class: "stop", lang: other ? "es" : null }, h("strong", {}, other ? "Alto. " : "Stop. "), of.stop),
    of.stop_es && h("p", { class: "stop-es", lang: "es" }, h("strong", {}, "Alto. "), of.stop_es),
  ];
}

/** A link that looks like a button. */
export const button = (address, words, main = false) => h("p", {}, h("a", { class: main ? "button main" : "button", href: address }, words));
