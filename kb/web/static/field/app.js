// Rounds with or without signal: every entry is stored on the phone first, then sent.
import { h } from "./dom.js";
import * as outbox from "./outbox.js";
import * as store from "./store.js";
import { TASKS } from "./tasks.js";
import * as views from "./views.js";

const EVERY = 10_000;
const main = document.getElementById("screen");
const state = { told: null, library: null, items: [], line: "", tags: {}, skew: 0, wait: EVERY, others: null };

/** Read what the phone keeps, and show the screen of the address. */
async function show(moved = false) {
  [state.told, state.items] = await Promise.all([store.stops(), outbox.all()]);
  // The library is large: it is read once, and again only where another one came.
  state.library ??= await store.library();
  state.others ??= await store.othersWaiting();
  banner();
  const mark = JSON.stringify([location.hash, state.told?.stops, state.items, state.library?.tag, state.line === "signed out"]);
  // Never under somebody's fingers, and not at all where nothing has changed.
  if (!moved && (typing() || mark === state.mark)) return;
  state.mark = mark;
  const held = main.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
  const view = state.told && state.library ? screen() : nothing();
  document.title = `${view.title} · Rounds`;
  const heading = h("h1", { tabindex: "-1" }, view.title);
  main.replaceChildren(...[view.over && h("p", { class: "over" }, view.over), heading, ...view.body].flat(9).filter(Boolean));
  if (held) main.querySelector(`a[href="${CSS.escape(held)}"]`)?.focus({ preventScroll: true });
  if (moved) { window.scrollTo(0, 0); heading.focus({ preventScroll: true }); }
}

const typing = () => main.querySelector("form, [type=search]") !== null;

function nothing() {
  const words = state.line === "signed out" || !store.me()
    ? ["Sign in to see your stops: ", h("a", { href: "/sign-in?next=/rounds/field" }, "sign in"), "."]
    : ["The library and your stops are not on this phone yet. They come as soon as there is signal."];
  return { title: "Rounds", body: [h("p", {}, words)] };
}

/** Which screen an address means. */
function screen() {
  const [, kind, id, what, name, more] = location.hash.split("/");
  const { told, library, items } = state;
  if (kind === "phone") return views.outboxView({ outbox: items, told, retry, drop });
  if (kind === "find") return views.findView(library, "#/");
  if (kind === "article" && library.articles[id]) return views.articleView(library, id, "#/");
  const stop = told.stops.find((one) => one.id === id);
  if (kind === "tree" && library.trees[id]) return views.walkView(loose(), id, what);
  if (kind !== "stop" || !stop) return views.stopsView({ told, outbox: items });
  const at = { stop, told, library, show: () => show(true), pending: items.filter((item) => item.entry.incident === id), outbox: items, enter: (entries, when, picture, incident) => enter(stop, entries, when, picture, incident) };
  if (what === "do" && name in TASKS) return views.taskView(changing(at, more), name, values(more));
  if (what === "tree" && library.trees[name]) return views.walkView(at, name, more);
  if (what === "article" && library.articles[name]) return views.articleView(library, name, `#/stop/${id}`);
  if (what === "find") return views.findView(library, `#/stop/${id}`);
  return views.stopView(at);
}

/** A walk that belongs to no stop: its answers are kept for this visit alone. */
const looseAnswers = {};
function loose() {
  const stop = { id: "", number: "", answers: looseAnswers };
  return { stop, library: state.library, pending: [], show: () => show(true), enter: async ([[, body]]) => {
    (looseAnswers[body.walk] ??= []).push([body.tree, body.step, body.answer]);
  } };
}

/** A refused entry that is written anew: its values fill the form, and the new one takes its place. */
const refusedOf = (place) => state.items.find((item) => item.state === "refused" && String(item.place) === place);
function values(place) {
  const body = refusedOf(place)?.entry.body ?? {};
  return Object.fromEntries(Object.entries(body).map(([name, value]) => [{ from: "source" }[name] ?? name, String(value)]));
}
function changing(at, place) {
  const item = place && refusedOf(place);
  return item ? { ...at, enter: async (entries, when) => { await at.enter(entries, when ?? new Date(item.entry.happened)); await outbox.remove(item.place); } } : at;
}

/** Store entries of a stop on the phone, a millisecond apart so that the first stays first; then send. */
async function enter(stop, entries, when = new Date(), picture = undefined, incident = stop.id) {
  await outbox.add(entries.map(([kind, body], n) => ({
    id: crypto.randomUUID(), election: state.told.election.id, incident, kind,
    happened: new Date(when.getTime() + n).toISOString(),
    body: Object.fromEntries(Object.entries(body).filter(([, value]) => value !== "" && value !== undefined)),
  })), picture);
  await show(true);
  send();
}

async function retry(item) { await outbox.again(item.place); await show(true); send(); }
async function drop(item) { if (confirm("Take this entry off the phone? The office never had it.")) { await outbox.remove(item.place); await show(true); } }

let timer = 0;

/** Send what waits, ask for stops and library, and come again: sooner when all went well. */
async function send() {
  clearTimeout(timer);
  if (state.told?.token) state.line = await outbox.send(state.told.token);
  const before = state.line;
  const came = await stops();
  // The token of a new sign-in comes with the stops: what was refused for the old one goes now.
  if (before === "signed out" && came && state.told) state.line = await outbox.send(state.told.token);
  state.wait = state.line === "away" ? Math.min(state.wait * 2, 120_000) : EVERY;
  await show();
  timer = setTimeout(send, document.hidden ? 6 * state.wait : state.wait);
}

/** The library, even over the thinnest line: the page has begun to load it before this script ran. */
async function pack() {
  try {
    const response = await fetch("/rounds/pack");
    return response.ok && !response.redirected ? await response.json() : null;
  } catch {
    return null;
  }
}

async function stops() {
  const have = state.library;
  // The first time there is nothing to compare with: both come at once.
  const first = have ? null : pack();
  const answer = await outbox.ask("/rounds/mine", state.tags.mine ? { headers: { "If-None-Match": state.tags.mine } } : {});
  if (answer.fault) { state.line = answer.fault; return false; }
  if (answer.same) { if (state.line !== "signed out") state.line = "sent"; return true; }
  const known = new Set(state.told?.login === answer.told.login ? state.told.stops.map((stop) => stop.id) : []);
  state.tags.mine = answer.tag;
  state.skew = Date.now() - Date.parse(answer.told.at);
  if (store.me() !== answer.told.login) {
    if (store.me()) await store.forgetStops();
    store.becomes(answer.told.login);
    state.others = null;
  }
  const fresh = state.told ? answer.told.stops.filter((stop) => !stop.closed && !known.has(stop.id)) : [];
  await store.keepStops(answer.told);
  state.told = answer.told;
  state.line = "sent";
  if (fresh.length) tell(`New stop: ${fresh.map((stop) => stop.place?.name ?? "place not known").join(", ")}`);
  if (have?.tag !== answer.told.pack) {
    const came = await (first ?? pack());
    if (came) {
      state.library = { ...came, tag: answer.told.pack };
      await store.keepLibrary(state.library);
    }
  }
  return true;
}

/** A new stop is seen, read out, and heard where the sound was allowed. */
let sound = null;
function tell(words) {
  document.getElementById("new").textContent = words;
  navigator.vibrate?.([300, 150, 300]);
  if (!sound) return;
  const tone = sound.createOscillator();
  tone.frequency.value = 660;
  tone.connect(sound.destination);
  tone.start();
  tone.stop(sound.currentTime + 0.5);
}

/** The line at the top: what waits, whether there is signal, whose clock is off. */
function banner() {
  const waiting = state.items.filter((item) => item.state === "waiting").length;
  const refused = state.items.filter((item) => item.state === "refused").length;
  const minutes = Math.round(state.skew / 60_000);
  const parts = [
    waiting ? `${waiting} not sent` : "all sent",
    refused && `${refused} not taken`,
    state.line === "away" && "no signal",
    state.line === "signed out" && "signed out: sign in to send",
    Math.abs(state.skew) > 120_000 && `this phone’s clock is ${Math.abs(minutes)} min ${minutes > 0 ? "fast" : "slow"}; the record puts it right`,
    state.others.length > 0 && `entries of ${state.others.join(", ")} wait on this phone until they sign in here`,
  ];
  document.getElementById("line").replaceChildren(h("a", { href: "#/phone" }, parts.filter(Boolean).join(" · ")));
  document.getElementById("sign").hidden = state.line !== "signed out";
}

/** Signing out: what is not sent is named first, and nobody's stops stay readable. */
document.getElementById("out").addEventListener("click", async () => {
  const left = state.items.filter((item) => item.state !== "taken").length;
  if (left && !confirm(`${left} ${left === 1 ? "entry is" : "entries are"} not sent. They stay on this phone and are sent when you sign in here again. Sign out?`)) return;
  const token = state.told?.token ?? "";
  await store.forgetStops();
  await fetch("/sign-out", { method: "POST", headers: { "X-Form-Token": token }, redirect: "manual" }).catch(() => null);
  location.href = "/sign-in";
});

/** Text size, sun, sound, and keeping it among the phone's programs. */
for (const name of ["large", "sun"]) {
  const box = document.getElementById(name);
  const apply = (on) => { document.documentElement.classList.toggle(name, on); box.setAttribute("aria-pressed", on); };
  apply(localStorage.getItem(`rounds-${name}`) === "yes");
  box.addEventListener("click", () => {
    const on = box.getAttribute("aria-pressed") !== "true";
    localStorage.setItem(`rounds-${name}`, on ? "yes" : "no");
    apply(on);
  });
}
document.getElementById("sound").addEventListener("click", (event) => {
  sound ??= new AudioContext();
  event.target.setAttribute("aria-pressed", "true");
  event.target.textContent = "Sound is on";
});
let offer = null;
window.addEventListener("beforeinstallprompt", (event) => { event.preventDefault(); offer = event; document.getElementById("keep").hidden = false; });
document.getElementById("keep").addEventListener("click", () => { offer?.prompt(); document.getElementById("keep").hidden = true; });

document.getElementById("send").addEventListener("click", send);
window.addEventListener("hashchange", () => show(true));
window.addEventListener("online", send);
document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
await show(true);
await send();
await show();
document.documentElement.dataset.ready = "yes";
if ("serviceWorker" in navigator) {
  navigator.serviceWorker.register("/rounds/worker.js", { scope: "/rounds" }).then(async () => {
    await navigator.serviceWorker.ready;
    document.documentElement.dataset.kept = "yes";
    document.getElementById("kept").textContent = "This page works without signal.";
    navigator.storage?.persist?.();
  }).catch(() => { document.getElementById("kept").textContent = "This phone does not keep the page: without signal, write on paper."; });
} else {
  document.getElementById("kept").textContent = "Without a secure address (https) this page needs signal: without it, write on paper.";
}
