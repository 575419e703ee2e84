// The lists of callers' words by keyboard. Without this script each line has its buttons.
"use strict";

const token = document.querySelector('meta[name="form-token"]').content;
const done = document.getElementById("done");
const keys = document.getElementById("keys");
const lines = () => [...document.querySelectorAll("[data-keys] > li")];
let last = null; // what `u` takes back: the line, where it stood, its decision

/** Give a line the focus; the Tab key comes back to it. */
function go(line) {
  if (!line) return;
  for (const one of lines()) one.tabIndex = -1;
  line.tabIndex = 0;
  line.focus();
}

function post(address, fields) {
  const body = new URLSearchParams(fields);
  return fetch(address, { method: "POST", body, headers: { "X-Form-Token": token, "X-Part": "1" } });
}

/** Do what the line's button does, and take the line away once it is stored. */
async function decide(button) {
  const form = button.form;
  const line = form.closest("li");
  const slug = form.elements.slug;
  const accepts = button.dataset.key === "a";
  if (accepts && !slug.value) {
    slug.focus();
    done.textContent = "Pick the article that these words should lead to.";
    return;
  }
  line.ariaBusy = "true";
  const response = await post(button.getAttribute("formaction") ?? form.action, new FormData(form)).catch(() => null);
  line.ariaBusy = null;
  if (response?.status !== 204) {
    form.requestSubmit(button); // the page that comes back says what is wrong
    return;
  }
  const list = lines();
  const at = list.indexOf(line);
  const words = form.elements.words.value;
  last = {
    line, parent: line.parentElement, before: line.nextElementSibling,
    fields: { words, slug: accepts ? slug.value : form.elements.offered_for.value },
  };
  go(list[at + 1] ?? list[at - 1]);
  line.remove();
  done.textContent = `${accepts ? "Accepted" : "Set aside"}: “${words}”`;
}

async function undo() {
  if (!last) return;
  const { line, parent, before, fields } = last;
  const response = await post(parent.dataset.undo, fields).catch(() => null);
  if (response?.status !== 204) {
    done.textContent = "That was not undone. Load the page again.";
    return;
  }
  last = null;
  parent.insertBefore(line, before?.isConnected ? before : null);
  go(line);
  done.textContent = `Undone: “${fields.words}”`;
}

/** Keys work while a line of a list has the focus, and never in a field. */
function onKey(event) {
  const line = event.target.closest("li");
  const typing = event.target.closest("input, select, textarea");
  if (typing || event.ctrlKey || event.metaKey || event.altKey) return;
  const list = lines();
  const at = list.indexOf(line);
  const moves = { j: 1, ArrowDown: 1, k: -1, ArrowUp: -1 };
  if (event.key in moves) go(list[at + moves[event.key]]);
  else if (event.key === "a" || event.key === "x") decide(line.querySelector(`[data-key="${event.key}"]`));
  else if (event.key === "u") undo();
  else return;
  event.preventDefault();
}

for (const list of document.querySelectorAll("[data-keys]")) list.addEventListener("keydown", onKey);
if (keys) keys.hidden = false;
const first = lines()[0];
if (first) {
  first.tabIndex = 0;
  first.focus({ preventScroll: true });
}
