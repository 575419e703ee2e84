// Ask for the table again; the server answers 304 while nothing has changed.
"use strict";

const board = document.getElementById("now");
const every = 10_000;
let tag = board.dataset.tag ? `"${board.dataset.tag}"` : null;

async function refresh() {
  if (document.hidden) return;
  try {
    const response = await fetch(board.dataset.address, {
      headers: { "X-Part": "1", ...(tag ? { "If-None-Match": tag } : {}) },
      cache: "no-store",
    });
    document.getElementById("lost").hidden = response.status !== 401;
    if (response.status === 200) {
      tag = response.headers.get("ETag");
      const text = await response.text();
      const held = board.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
      board.innerHTML = text;
      // The link that had the keyboard's focus has it again: polling never moves it.
      if (held) board.querySelector(`a[href="${CSS.escape(held)}"]`)?.focus({ preventScroll: true });
    }
  } catch {
    // No connection: the time at the top of the table shows how old it is.
  }
}

setInterval(refresh, every);
document.addEventListener("visibilitychange", refresh);
