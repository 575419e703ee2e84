// Keeps the shell of Rounds on the phone. Before this stand VERSION and FILES, from the server.
// What belongs to a person (stops, entries) is never here: it lies in that person's own database.
"use strict";

const SHELL = "/rounds/field";
const CACHE = `rounds-${VERSION}`;
const PATIENCE = 4000; // milliseconds that a page may take before the phone's own is shown

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll(FILES);
    const shell = await fetch(SHELL, { redirect: "error", cache: "no-store" });
    if (!shell.ok) throw new Error("the page for work without signal did not come");
    await cache.put(SHELL, shell);
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith("rounds-") && name !== CACHE);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== self.location.origin) return;
  if (FILES.includes(address.pathname)) event.respondWith(kept(address.pathname, event.request));
  else if (address.pathname === SHELL) event.respondWith(kept(SHELL, event.request));
  else if (event.request.mode === "navigate") event.respondWith(page(event.request, address));
});

/** What is kept, and only where it is gone, what the network has. */
async function kept(name, request) {
  const cache = await caches.open(CACHE);
  return (await cache.match(name)) ?? fetch(request);
}

/** A page of the server; where none comes in time, the same stop on the phone. */
async function page(request, address) {
  const late = new Promise((resolve) => { setTimeout(resolve, PATIENCE); });
  const answer = await Promise.race([fetch(request).catch(() => null), late]);
  if (answer && answer.status < 500) return answer;
  const [, , stop, kind, name] = address.pathname.split("/");
  const where = stop ? `#/stop/${[stop, kind, name].filter(Boolean).join("/")}` : "#/";
  return Response.redirect(`${SHELL}${where}`);
}
