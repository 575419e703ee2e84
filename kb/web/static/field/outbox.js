// The outbox: an entry is stored before anything is sent, and leaves only when the second machine
// holds it, or a day after the server took it where there is none.
import { me, mine } from "./store.js";

const DAY = 24 * 3600 * 1000;
const AT_ONCE = 50;

/** Store entries, in their order; all or none. A picture lies beside the entry that names it. */
export async function add(entries, picture) {
  const change = (await mine()).transaction("outbox", "readwrite");
  for (const entry of entries) change.store.add({ entry, picture, state: "waiting", stored: Date.now() });
  await change.done;
}

export const all = async () => (me() ? (await mine()).getAll("outbox") : []);
export const remove = async (place) => (await mine()).delete("outbox", place);

/** Try a refused entry once more. */
export async function again(place) {
  const db = await mine();
  const item = await db.get("outbox", place);
  if (item) await db.put("outbox", { ...item, state: "waiting", message: "" });
}

let sending = null;

/** Send what waits; one sending at a time. Tells "sent", "away", "signed out" or "nothing". */
export function send(token) {
  sending ??= work(token).finally(() => { sending = null; });
  return sending;
}

async function work(token) {
  const login = me();
  if (!login) return "signed out";
  const db = await mine(login);
  let told = "nothing";
  for (;;) {
    const waiting = (await db.getAll("outbox")).filter((item) => item.state === "waiting").slice(0, AT_ONCE);
    if (!waiting.length) break;
    const fault = await pictures(db, waiting, token);
    if (fault === "again") continue;
    if (fault) return fault;
    const sent = new Date().toISOString();
    const answer = await ask("/entries", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Form-Token": token },
      body: JSON.stringify({ entries: waiting.map((item) => ({ ...item.entry, sent })) }),
    });
    if (answer.fault) return answer.fault;
    await receive(db, waiting, answer.told);
    told = "sent";
  }
  return (await settle(db)) ?? told;
}

/** Pictures go before the entries that name them; one that is refused stays, with its entry. */
async function pictures(db, items, token) {
  for (const item of items.filter((one) => one.picture)) {
    const headers = { "Content-Type": "image/jpeg", "X-Form-Token": token };
    const answer = await ask("/pictures", { method: "POST", headers, body: item.picture });
    if (answer.fault && answer.fault !== "refused") return answer.fault;
    if (answer.fault) {
      await db.put("outbox", { ...item, state: "refused", message: "The office does not take this picture." });
      return "again";
    }
  }
  return null;
}

/** Keep what the server said of each entry. */
async function receive(db, items, told) {
  const receipts = new Map(told.receipts.map((one) => [one.id, one]));
  const change = db.transaction("outbox", "readwrite");
  for (const item of items) {
    const receipt = receipts.get(item.entry.id);
    if (!receipt) continue;
    const refused = receipt.state === "refused";
    const held = !refused && receipt.sequence <= (told.held[item.entry.election] ?? 0);
    if (held) change.store.delete(item.place);
    else {
      change.store.put({
        ...item, state: refused ? "refused" : "taken", message: receipt.message,
        sequence: receipt.sequence, taken: Date.now(),
      });
    }
  }
  await change.done;
}

/** Let go of what the second machine holds by now, or what was taken a day ago. */
async function settle(db) {
  const taken = (await db.getAll("outbox")).filter((item) => item.state === "taken");
  for (const election of new Set(taken.map((item) => item.entry.election))) {
    const answer = await ask(`/entries/held/${encodeURIComponent(election)}`);
    if (answer.fault) return answer.fault;
    for (const item of taken) {
      const safe = item.entry.election === election && item.sequence <= answer.told.held;
      if (safe || Date.now() - item.taken > DAY) await db.delete("outbox", item.place);
    }
  }
  return null;
}

/** A question to the server: what it told, or what is the matter. */
export async function ask(address, options = {}) {
  try {
    const response = await fetch(address, {
      ...options,
      headers: { "X-Part": "1", ...options.headers },
      cache: "no-store",
      redirect: "error",
      signal: AbortSignal.timeout(20_000),
    });
    if ([401, 403].includes(response.status)) return { fault: "signed out" };
    if (address === "/pictures" && [400, 413].includes(response.status)) return { fault: "refused" };
    if (response.status === 304) return { same: true };
    if (!response.ok) return { fault: "away" };
    return { told: await response.json(), tag: response.headers.get("ETag"), date: response.headers.get("Date") };
  } catch {
    return { fault: "away" };
  }
}
