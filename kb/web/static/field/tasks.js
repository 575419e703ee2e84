// What a rover writes down at a stop: the fields of each task, and the entries that they make.
// The same rules as the forms of kb/web/stopforms.py; the server judges every entry once more.

const whole = (text) => (/^\d{1,9}$/.test(text.replace(/[ ,]/g, "")) ? Number(text.replace(/[ ,]/g, "")) : null);
const plain = (seal) => seal.toUpperCase().replace(/[^A-Z0-9]/g, "");
const device = (one) => [one.asset, `${one.asset} ${one.name}`];

const pick = (name, legend, options) => ({ kind: "pick", name, legend, options });
const line = (name, label, more = {}) => ({ kind: "line", name, label, ...more });
const number = (name, label) => line(name, label, { digits: true });

/** A reader: gathers faults beside their fields. */
function reader(values) {
  const faults = {};
  const has = (name, why) => {
    const value = String(values[name] ?? "").trim().replace(/\s+/g, " ");
    if (!value && why) faults[name] = why;
    return value;
  };
  const count = (name, why) => {
    const value = has(name, why);
    if (value && whole(value) === null) faults[name] = `“${value}” is not a whole number. Type digits only, such as 1204.`;
    return value ? whole(value) : undefined;
  };
  return { faults, has, count };
}

export const TASKS = {
  counter: {
    name: "Counter",
    fields: ({ stop, choices }) => [
      pick("asset", "Which device?", stop.devices.map(device)),
      line("other_asset", "Another device’s number"),
      number("public", "Public counter"),
      number("protective", "Protective (lifetime) counter, if you can see it"),
      pick("moment", "Before or after the work?", choices.moments),
    ],
    read({ has, count, faults }) {
      const asset = has("other_asset") || has("asset");
      if (!asset) faults.asset = "Pick the device whose counter you read, or type its number.";
      const body = { asset, public: count("public", "Type the public counter as the screen shows it."), protective: count("protective"), moment: has("moment", "Say whether this was before or after the work.") };
      return [["counter.read", body]];
    },
  },
  seal: {
    name: "Seal off or on",
    intro: "Two people, in view of the room. Write the number down before the seal is touched.",
    fields: ({ stop, choices }) => [
      pick("way", "What happens to the seal?", [["removed", "It comes off"], ["applied", "It goes on"]]),
      pick("seal", "Which seal?", stop.devices.flatMap((one) => one.seals.map((seal) => [seal, `${seal}, delivered on ${one.name.toLowerCase()} ${one.asset}`]))),
      line("other_seal", "Another number"),
      { kind: "tick", name: "as_read", label: "Two people read this number twice" },
      pick("where", "Where does it sit?", choices.compartments),
      pick("state", "In what state is it?", choices.seal_states),
    ],
    read({ has, faults }, { stop }) {
      const seal = has("other_seal") || has("seal");
      if (!seal) faults.seal = "Pick the seal from the list, or type the number that you see.";
      const way = has("way", "Say whether it came off or went on.");
      const listed = [...stop.devices.flatMap((one) => one.seals), ...stop.seals_on].map(plain);
      const gone = stop.seals_off.map(plain);
      if (seal && !has("as_read")) {
        if (way === "applied" && gone.includes(plain(seal))) faults.other_seal = `${seal} was taken off. A seal goes on once only. Read it once more, or tick that it was read twice.`;
        if (way === "removed" && listed.length && !listed.includes(plain(seal))) faults.other_seal = `${seal} is not on the list of seals that were delivered here. Read it once more, or tick that it was read twice. A seal that differs is for the office: call before anything is opened.`;
      }
      return [[`seal.${way}`, { seal, where: has("where", "Say where the seal sits."), state: has("state", "Say in what state the seal is.") }]];
    },
  },
  witnesses: {
    name: "Two witnesses",
    intro: "Two sworn persons who saw it. The rover is not one of them unless the county says so. Each signs the paper log.",
    fields: ({ choices }) => ["1", "2"].flatMap((n) => [
      line(`name${n}`, `Name of witness ${n}`),
      pick(`role${n}`, `Role of witness ${n}`, choices.witness_roles),
      pick(`confirmed${n}`, `Witness ${n} confirmed by`, choices.confirmed_by),
    ]),
    read({ has, faults }) {
      const told = ["1", "2"].map((n) => ["witness.named", {
        name: has(`name${n}`, `Name witness ${n}.`),
        role: has(`role${n}`, `Say what witness ${n} is here.`),
        confirmed_by: has(`confirmed${n}`, `Say how witness ${n} confirmed it.`),
      }]);
      const [one, other] = told.map(([, body]) => body.name.toLowerCase());
      if (one && one === other) faults.name2 = "Two different persons must witness. Name another one.";
      return told;
    },
  },
  compartment: {
    name: "Something opened or closed",
    fields: ({ choices }) => [
      pick("way", "Opened or closed?", [["opened", "Opened"], ["closed", "Closed"]]),
      pick("compartment", "What?", choices.compartments),
    ],
    read: ({ has }) => [[`compartment.${has("way", "Say whether it was opened or closed.")}`, { compartment: has("compartment", "Say what was opened or closed.") }]],
  },
  ballots: {
    name: "Ballots moved",
    intro: "Two people, in view. Nobody looks at choices.",
    fields: ({ choices }) => [
      pick("source", "From where?", choices.where_ballots), pick("to", "To where?", choices.where_ballots),
      line("container", "Container and its number, if any"), number("count", "How many, if counted"),
    ],
    read({ has, count, faults }) {
      const body = { from: has("source", "Say where they were taken from."), to: has("to", "Say where they were put."), container: has("container"), count: count("count") };
      if (body.from && body.from === body.to) faults.to = "They were taken from there. Say where they were put.";
      return [["ballots.moved", body]];
    },
  },
  tally: {
    name: "Stored ballots counted up",
    fields: () => [number("stored", "Came out of the emergency compartment"), number("accepted", "The scanner took"), number("returned", "Given back to voters")],
    read: ({ count }) => [["ballots.tallied", {
      stored: count("stored", "Count what came out of the emergency compartment."),
      accepted: count("accepted", "Count those that the scanner took; 0 if none."),
      returned: count("returned", "Count those given back to voters; 0 if none."),
    }]],
  },
  swap: {
    name: "Device swapped",
    fields: ({ stop, choices, spares }) => [
      pick("old", "Taken out", stop.devices.map(device)), line("other_old", "Another number"),
      pick("new", "Put in", spares.slice(0, 12).map(device)), line("other_new", "Another number"),
      pick("memory", "Where is the memory device now?", choices.memory),
    ],
    read({ has, faults }) {
      const body = { old: has("other_old") || has("old"), new: has("other_new") || has("new"), memory: has("memory", "Say where the memory device is now.") };
      if (!body.old) faults.old = "Pick the device that was taken out, or type its number.";
      if (!body.new) faults.new = "Pick the device that was put in, or type its number.";
      if (body.old && body.old === body.new) faults.other_new = "Both are the same device. Read the two labels again.";
      return [["device.swapped", body]];
    },
  },
  note: {
    name: "Note",
    intro: "No names of voters, nothing about how anyone voted, no codes.",
    fields: () => [{ kind: "text", name: "text", label: "What somebody will ask about later" }],
    read: ({ has }) => [["note.added", { text: has("text", "Write the note, or go back.") }]],
  },
  picture: {
    name: "Picture of equipment",
    allowed: (told) => told.pictures,
    intro: "Only where nobody votes. Never a marked ballot, a voter, a list of names or a code.",
    fields: () => [{ kind: "file", name: "file", label: "Take a picture" }, line("text", "What it shows")],
    read({ has, faults }, { picture }) {
      if (!picture) faults.file = "Take a picture, or go back.";
      return [["picture.added", { picture: picture?.name ?? "", text: has("text", "Say what it shows.") }]];
    },
  },
  restore: {
    name: "It works again, or the stop ends",
    main: true,
    fields: ({ choices }) => [pick("outcome", "How did it end?", choices.outcomes), line("reason", "If it does not work again: why, and who goes on")],
    read({ has, faults }, { choices }) {
      const outcome = has("outcome", "Say how it ended.");
      const reason = has("reason");
      const end = ["incident.closed", { outcome, reason }];
      if (choices.restoring.includes(outcome)) return [["voting.restored", {}], end];
      if (outcome && !reason) faults.reason = "Say why there is no time at which it worked again.";
      return [end];
    },
  },
};

/** The entries of a task's form, or its faults by field. */
export function read(task, values, at) {
  const form = reader(values);
  const told = TASKS[task].read(form, at);
  const when = typedTime(values.happened ?? "", form.faults, at.zone);
  return { told, when, faults: form.faults };
}

/** A wall-clock time of the last 24 hours in the election's zone; empty means now. */
export function typedTime(typed, faults, zone) {
  const text = typed.trim();
  if (!text) return new Date();
  const [, hour, minute] = /^(\d{1,2}):(\d{2})$/.exec(text) ?? [];
  if (minute === undefined || hour > 23 || minute > 59) {
    faults.happened = `“${text}” is not a time. Type it as hours:minutes, such as 10:42.`;
    return new Date();
  }
  const parts = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(new Date());
  const [nowHour, nowMinute] = parts.split(":").map(Number);
  const back = (nowHour * 60 + nowMinute - (hour * 60 + Number(minute)) + 1440) % 1440;
  // A minute or two ahead is a watch that runs fast, not yesterday.
  return new Date(Date.now() - (back > 1437 ? 0 : back) * 60_000);
}

/** Words and a task for each kind of entry, for what waits on the phone. */
export const KINDS = {
  "place.ready": ["Place ready"], "place.opened": ["Place open"], "place.closed": ["Place closed"],
  "materials.left": ["Materials have left"], "materials.received": ["Handed in"], "rover.arrived": ["I am here"], "tree.answered": ["Answer"],
  "counter.read": ["Counter", "counter"], "seal.removed": ["Seal off", "seal"], "seal.applied": ["Seal on", "seal"],
  "witness.named": ["Witness", "witnesses"], "compartment.opened": ["Opened", "compartment"],
  "compartment.closed": ["Closed", "compartment"], "ballots.moved": ["Ballots moved", "ballots"],
  "ballots.tallied": ["Stored ballots", "tally"], "device.swapped": ["Swap", "swap"], "note.added": ["Note", "note"], "picture.added": ["Picture"],
  "voting.restored": ["It works again", "restore"], "incident.closed": ["Stop ended", "restore"],
};

/** One entry in words. */
export function inWords({ kind, body }) {
  const told = Object.entries(body).filter(([name]) => !["hash", "tree", "walk", "rover", "step", "picture"].includes(name)).map(([, value]) => value);
  return `${KINDS[kind]?.[0] ?? kind}${told.length ? `: ${told.join(", ")}` : ""}`;
}
