// The editor as one types: saved on the server, checked, previewed. Without this script the
// buttons below the text do the same.
"use strict";

const form = document.getElementById("edit");
const text = document.getElementById("edit-text");
const token = document.querySelector('meta[name="form-token"]').content;
let timer = 0;
let running = null; // the save under way: one at a time, so that a page never overtakes itself
let again = false;

async function keep() {
  if (running) {
    again = true;
    return;
  }
  again = false;
  running = send();
  await running;
  running = null;
  if (again) await keep();
}

async function send() {
  try {
    const response = await fetch(form.dataset.live, {
      method: "POST",
      body: new FormData(form),
      headers: { "X-Form-Token": token, "X-Part": "1" },
    });
    document.getElementById("lost").hidden = response.status !== 401;
    if (response.ok) show(await response.json());
    else document.getElementById("saved").textContent = "Not saved yet.";
  } catch {
    document.getElementById("saved").textContent = "Not saved: no connection. It is tried again.";
    later(5000);
  }
}

function show(told) {
  document.getElementById("problems").innerHTML = told.problems;
  document.getElementById("preview").innerHTML = told.preview;
  const stale = document.getElementById("told");
  stale.hidden = !told.told;
  stale.querySelector("span").textContent = told.told;
  document.getElementById("saved").textContent = told.told ? "Not saved." : told.saved;
  if (!told.told) form.elements.revision.value = told.revision;
}

function later(wait) {
  clearTimeout(timer);
  timer = setTimeout(keep, wait);
}

form.addEventListener("input", () => {
  document.getElementById("saved").textContent = "Not saved yet.";
  later(700);
});

// A button waits for the save under way, whose revision its own must follow.
form.addEventListener("submit", async (event) => {
  clearTimeout(timer);
  if (!running) return;
  event.preventDefault();
  again = false;
  await running;
  form.requestSubmit(event.submitter);
});

// From what the check says to the line of the text.
document.getElementById("problems").addEventListener("click", (event) => {
  const link = event.target.closest("[data-line]");
  if (!link) return;
  event.preventDefault();
  const lines = text.value.split("\n");
  const number = Number(link.dataset.line);
  const start = lines.slice(0, number - 1).join("\n").length + (number > 1 ? 1 : 0);
  text.focus();
  text.setSelectionRange(start, start + lines[number - 1].length);
  text.scrollTop = (text.scrollHeight * (number - 1)) / lines.length - text.clientHeight / 3;
});

function at() {
  if (document.activeElement !== text) return;
  const before = text.value.slice(0, text.selectionStart).split("\n");
  document.getElementById("at").textContent = `Line ${before.length} of ${text.value.split("\n").length}`;
}
document.addEventListener("selectionchange", at);
