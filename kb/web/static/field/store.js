// What the phone keeps: the library for all, and for each login a database of its own.
import { openDB } from "./idb.js";

const ME = "latchbook-login";

/** The login whose stops this phone shows; empty after signing out. */
export const me = () => localStorage.getItem(ME) ?? "";

/** From now on this phone shows the stops of this login; empty for nobody's. */
export const becomes = (login) => (login ? localStorage.setItem(ME, login) : localStorage.removeItem(ME));

const shared = openDB("latchbook", 1, { upgrade: (db) => db.createObjectStore("kept") });
const own = new Map();

/** A login's own database: `kept` for its stops, `outbox` for its entries in their order. */
export function mine(login = me()) {
  if (!own.has(login)) {
    own.set(login, openDB(`latchbook-of-${login}`, 1, {
      upgrade(db) {
        db.createObjectStore("kept");
        db.createObjectStore("outbox", { keyPath: "place", autoIncrement: true });
      },
    }));
  }
  return own.get(login);
}

export const library = async () => (await shared).get("kept", "library");
export const keepLibrary = async (told) => (await shared).put("kept", told, "library");
export const stops = async () => (me() ? (await mine()).get("kept", "stops") : undefined);
export const keepStops = async (told) => (await mine(told.login)).put("kept", told, "stops");

/** After signing out nobody reads the stops on this phone; entries not yet sent stay. */
export async function forgetStops() {
  if (me()) await (await mine()).delete("kept", "stops");
  becomes("");
}

/** Other logins with entries on this phone that were not sent. */
export async function othersWaiting() {
  const names = (await indexedDB.databases?.() ?? []).map((one) => one.name);
  const logins = names.filter((name) => name.startsWith("latchbook-of-")).map((name) => name.slice(13));
  const waiting = [];
  for (const login of logins.filter((one) => one && one !== me())) {
    const entries = await (await mine(login)).getAll("outbox");
    if (entries.some((one) => one.state === "waiting" || one.state === "refused")) waiting.push(login);
  }
  return waiting;
}
