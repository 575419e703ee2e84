// The call page by keyboard and as typed. Without this script every form works by Enter.
"use strict";

const notes = document.getElementById("notes-form");
const finish = document.getElementById("finish-form");
const token = document.querySelector('meta[name="form-token"]').content;

/** Call `action` once typing has paused for `wait` milliseconds. */
function whenPaused(wait, action) {
  let timer = 0;
  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(action, wait);
  };
  later.cancel = () => clearTimeout(timer);
  return later;
}

/** Fetch that gives up the request before it, so that an old answer never overtakes a new one. */
function latest() {
  let running = null;
  return async (address) => {
    if (running) running.abort();
    running = new AbortController();
    try {
      const response = await fetch(address, { signal: running.signal, headers: { "X-Part": "1" } });
      return response.ok ? response : null;
    } catch {
      return null; // given up, or no connection: the page keeps what it shows
    }
  };
}

// Results for the caller's words, as they are typed.
const words = document.getElementById("words");
const results = document.getElementById("results");
if (results) {
  const ask = latest();
  words.addEventListener("input", whenPaused(180, async () => {
    const response = await ask(`${words.dataset.results}?q=${encodeURIComponent(words.value)}`);
    if (!response) return;
    results.innerHTML = await response.text();
    const found = results.querySelectorAll(".hit").length;
    document.getElementById("found").textContent = found ? `${found} articles found` : "";
  }));
}

// Places, as they are typed.
const place = document.getElementById("place");
const list = document.getElementById("places");
const askPlaces = latest();
place.addEventListener("input", whenPaused(120, async () => {
  const response = await askPlaces(`${place.dataset.places}?q=${encodeURIComponent(place.value)}`);
  if (!response) return;
  list.replaceChildren(...(await response.json()).map((item) => {
    const option = document.createElement("option");
    option.value = item.value;
    option.label = `${item.value}, ${item.address}`;
    return option;
  }));
}));

// Whichever form is sent carries the fields of the other, so that nothing typed is left behind.
function carry(from) {
  return (event) => {
    const own = new Set(event.formData.keys());
    for (const [name, value] of new FormData(from)) {
      if (!own.has(name)) event.formData.append(name, value);
    }
  };
}
let whole = true;
notes.addEventListener("formdata", (event) => whole && withoutEcho(() => carry(finish)(event)));
finish.addEventListener("formdata", (event) => whole && withoutEcho(() => carry(notes)(event)));

/** Reading a form fires "formdata" on it too; inside, it must not ask the other form back. */
function withoutEcho(action) {
  whole = false;
  action();
  whole = true;
}

// What is typed and not yet sent is kept on the server.
const keep = whenPaused(600, () => {
  fetch(notes.dataset.draft, {
    method: "POST",
    body: new FormData(notes),
    headers: { "X-Form-Token": token },
    keepalive: true,
  }).then((response) => {
    document.getElementById("lost").hidden = response.status !== 401;
  }).catch(() => {}); // the next pause tries again
});
// What is being sent needs no draft, and an old draft must not arrive after it.
notes.addEventListener("submit", keep.cancel);
finish.addEventListener("submit", keep.cancel);
notes.addEventListener("input", keep);
finish.addEventListener("input", keep);

// How long the call has lasted: for the eye alone, and never moving the focus.
const timer = document.getElementById("timer");
if (timer) {
  const tick = () => {
    const seconds = Math.max(0, Math.floor(Date.now() / 1000 - Number(timer.dataset.since)));
    timer.textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")} on the phone`;
  };
  tick();
  setInterval(tick, 1000);
}

// Who else has the case open.
const beside = document.getElementById("beside");
setInterval(async () => {
  if (document.hidden) return;
  try {
    const response = await fetch(beside.dataset.address, { headers: { "X-Part": "1" } });
    if (response.ok) beside.innerHTML = await response.text();
  } catch {
    // No connection: the next time tells.
  }
}, 15_000);
