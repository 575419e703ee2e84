// The screens of Rounds on the phone: stops, one stop, a task, a walk, an article, a search, what waits.
import { button, h, stopLine, text } from "./dom.js";
import { index, search } from "./find.js";
import { drawn, form } from "./forms.js";
import { KINDS, TASKS, inWords, read } from "./tasks.js";
import { walk } from "./walk.js";

const clock = (zone, instant) => new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit" }).format(new Date(instant));
const effect = (stop) => h("span", { class: `effect ${stop.effect}` }, h("span", { class: "shape", "aria-hidden": "true" }), stop.effect_word);
const back = (address, words) => h("p", { class: "back" }, h("a", { href: address }, words));
const unset = (of, library) => of.unset.length > 0 && h("div", { class: "unset" }, h("p", {}, "Not set: ask the office. The strictest choice is shown until the county answers:"), h("ul", {}, of.unset.map((one) => h("li", {}, library.questions[one] ?? one))));

/** My stops. */
export function stopsView({ told, outbox }) {
  const open = told.stops.filter((stop) => !stop.closed);
  const done = told.stops.filter((stop) => stop.closed);
  const here = (stop) => outbox.filter((item) => item.entry.incident === stop.id && item.state !== "taken").length;
  return { title: "My stops", body: [
    open.length ? h("ol", { class: "stops" }, open.map((stop) => h("li", {},
      h("a", { class: "stop-link", href: `#/stop/${stop.id}` }, stop.place?.name ?? "Place not known"),
      h("p", {}, effect(stop), ` · priority ${stop.priority} · case ${stop.number}`),
      h("p", {}, stop.what, stop.words && `, “${stop.words}”`),
      h("p", { class: "hint" }, [stop.place?.address, stop.there && "you are there", here(stop) && `${here(stop)} not sent`].filter(Boolean).join(" · ")))))
      : h("p", {}, "No open stop. The hotline sends you the next one; it shows here by itself."),
    button("#/find", "Find an article"),
    done.length > 0 && [h("h2", {}, "Done today"), h("ul", { class: "plain" }, done.map((stop) => h("li", {}, h("a", { href: `#/stop/${stop.id}` }, `Case ${stop.number}, ${stop.place?.name ?? "place not known"}`), `: ${stop.outcome}`)))],
    told.hotline && h("p", {}, "Hotline: ", h("a", { href: `tel:${told.hotline}` }, told.hotline)),
  ] };
}

/** One stop: where, whom to call, what was tried, what to do. */
export function stopView(at) {
  const { stop, library, told, pending, enter, outbox } = at;
  const there = stop.there || pending.some((item) => item.entry.kind === "rover.arrived");
  const roll = outbox.filter((item) => item.entry.body.place === stop.place?.id).map((item) => item.entry.kind);
  const articles = stop.articles.filter((slug) => library.articles[slug]);
  const fact = (name, ...value) => [h("dt", {}, name), h("dd", {}, ...value)];
  return { title: stop.place?.name ?? `Case ${stop.number}`, body: [
    back("#/", "My stops"),
    h("p", {}, effect(stop), ` · case ${stop.number}`, stop.closed && ` · closed: ${stop.outcome}`),
    articles.map((slug) => stopLine(library.articles[slug])),
    stop.reason && h("p", { class: "notice" }, h("strong", {}, "Sent to: "), stop.reason),
    stop.flags.length > 0 && h("p", {}, h("strong", {}, "Marks: "), stop.flags.join(", ")),
    h("dl", { class: "facts" },
      stop.place && [fact("Address", stop.place.address), fact("Phone", h("a", { href: `tel:${stop.place.phone}` }, stop.place.phone), " (listed)")],
      stop.what && fact("What", stop.what, stop.asset && `, ${stop.asset}`),
      stop.words && fact("Caller said", `“${stop.words}”`),
      fact("Reported", stop.reported)),
    h("h2", {}, "What was tried"),
    h("ul", { class: "tried" }, stop.tried.length ? stop.tried.map(([asked, answered]) => h("li", {}, asked, " ", h("strong", {}, answered))) : h("li", { class: "hint" }, "Nothing yet.")),
    stop.trees.filter((slug) => library.trees[slug]).map((slug, n) => button(`#/stop/${stop.id}/tree/${slug}`, library.trees[slug].title, n === 0)),
    articles.map((slug) => button(`#/stop/${stop.id}/article/${slug}`, `Read: ${library.articles[slug].title}`)),
    button(`#/stop/${stop.id}/find`, "Find another article"),
    h("h2", {}, "Write down"),
    there ? h("p", {}, "You are there.") : h("p", {}, h("button", { class: "main", onclick: () => enter([["rover.arrived", { rover: told.login }]]) }, "I am here")),
    stop.next && !roll.includes(stop.next[0]) && h("p", {}, h("button", { onclick: () => enter([[stop.next[0], { place: stop.place.id }]], undefined, undefined, null) }, `Roll call: mark ${stop.next[1]}`)),
    h("ul", { class: "tasks" }, Object.entries(TASKS).filter(([, task]) => task.allowed?.(told) ?? true).map(([slug, task]) => h("li", {}, h("a", { class: task.main ? "button main" : "button", href: `#/stop/${stop.id}/do/${slug}` }, task.name)))),
    h("h2", {}, "Written down so far"),
    text(stop.written),
    pending.length > 0 && [h("h3", {}, "On this phone, not with the office yet"), waiting(pending, told.zone)],
  ] };
}

/** One task. */
export function taskView(at, slug, values) {
  const task = TASKS[slug];
  const { stop, enter, told } = at;
  return { title: task.name, body: [
    back(`#/stop/${stop.id}`, `Case ${stop.number}`),
    task.intro && h("p", {}, task.intro),
    form(task.fields({ ...told, stop }), values, async (typed) => {
      const picture = typed.file?.size ? await drawn(typed.file).catch(() => null) : null;
      const { told: entries, when, faults } = read(slug, typed, { ...told, stop, picture });
      if (Object.keys(faults).length) return faults;
      await enter(entries, when, picture?.blob);
      location.hash = slug === "restore" ? "#/" : `#/stop/${stop.id}`;
      return {};
    }),
  ] };
}

/** One question of a tree, with what was answered on the phone taken in. */
export function walkView(at, slug, asked) {
  const { stop, library, pending, enter } = at;
  const tree = library.trees[slug];
  const own = pending.filter((item) => item.entry.kind === "tree.answered" && item.entry.body.walk === slug).map(({ entry: { body } }) => [body.tree, body.step, body.answer]);
  const stands = walk(library.trees, slug, [...(stop.answers[slug] ?? []), ...own]);
  const shown = stands.path.find((one) => `${one.tree}.${one.id}` === asked) ?? stands;
  const { step } = shown;
  const answer = (label) => async () => {
    await enter([["tree.answered", { tree: shown.tree, hash: library.trees[shown.tree].hash, step: shown.id, answer: label, walk: slug }]]);
    const next = `#/stop/${stop.id}/tree/${slug}`;
    if (location.hash === next) at.show(); else location.hash = next;
  };
  return { title: step.heading, over: tree.title, body: [
    back(`#/stop/${stop.id}`, `Case ${stop.number}`),
    stopLine(tree),
    step.kind === "end" && h("p", { class: step.voting === "stopped" ? "voting stopped" : "voting" }, library.voting[step.voting]),
    !stands.path.length && text(tree.intro),
    text(step.help),
    shown !== stands && h("p", { class: "hint" }, `Answered before: “${shown.label}”. A new answer stands beside the old one in the record.`),
    step.branches.map(([label, words]) => h("p", {}, h("button", { class: "answer", onclick: answer(label) }, words))),
    unset(tree, library),
    stands.path.length > 0 && [h("h2", { class: "small" }, "Answered so far"), h("ol", { class: "so-far" }, stands.path.map((one) => h("li", {}, one.step.heading, " ", h("strong", {}, one.label), " ", h("a", { href: `#/stop/${stop.id}/tree/${slug}/${one.tree}.${one.id}` }, "Change", h("span", { class: "unseen" }, `: ${one.step.heading}`)))))],
  ] };
}

/** An article; its links stay on the phone. */
export function articleView(library, slug, home) {
  const article = library.articles[slug];
  const body = text(article.html, article.language);
  for (const link of body.querySelectorAll('a[href^="#"]')) {
    const to = link.getAttribute("href").slice(1);
    link.setAttribute("href", library.trees[to] ? (home === "#/" ? `#/tree/${to}` : `${home}/tree/${to}`) : `${home === "#/" ? "#" : home}/article/${to}`);
  }
  return { title: article.title, over: article.code && `Card ${article.code}`, body: [
    back(home, "Back"), stopLine(article),
    article.tree && home !== "#/" && button(`${home}/tree/${article.tree}`, "Walk through it, question by question"),
    unset(article, library), body,
  ] };
}

/** Finding an article by the words that somebody says. */
export function findView(library, home) {
  const at = index(library);
  const list = h("ol", { class: "results" });
  const said = h("p", { class: "unseen", role: "status" });
  const look = (typed) => {
    const found = search(at, typed);
    said.textContent = typed ? `${found.length} found` : "";
    list.replaceChildren(...found.map(({ slug, kind, one }) => h("li", {},
      h("a", { class: "stop-link", href: kind === "tree" ? `${home === "#/" ? "#" : home}/tree/${slug}` : `${home === "#/" ? "#" : home}/article/${slug}` }, one.title),
      h("p", { class: "why" }, [one.code && `Card ${one.code}`, kind === "tree" ? "questions, one by one" : one.equipment].filter(Boolean).join(" · ")), stopLine({ ...one, stop_es: "" }))));
  };
  return { title: "Find an article", body: [
    back(home, "Back"),
    h("p", {}, h("label", { for: "find" }, "What they see, hear or smell, or the number of a card"), h("input", { id: "find", type: "search", autocomplete: "off", oninput: (event) => look(event.target.value) })),
    said, list,
  ] };
}

/** Everything that waits on this phone, and what was refused with its reason. */
export function outboxView({ outbox, told, retry, drop }) {
  const number = (id) => told.stops.find((stop) => stop.id === id)?.number ?? "?";
  const refused = outbox.filter((item) => item.state === "refused");
  const rest = outbox.filter((item) => item.state !== "refused");
  return { title: "What is on this phone", body: [
    back("#/", "My stops"),
    refused.map((item) => h("section", { class: "refused" },
      h("h2", {}, `Not taken: ${inWords(item.entry)}`), h("p", {}, `Case ${number(item.entry.incident)}. ${item.message}`),
      h("p", {}, h("button", { onclick: () => retry(item) }, "Send it once more")),
      KINDS[item.entry.kind]?.[1] && button(`#/stop/${item.entry.incident}/do/${KINDS[item.entry.kind][1]}/${item.place}`, "Write it anew"),
      h("p", {}, h("button", { class: "quiet", onclick: () => drop(item) }, "Take it off this phone")))),
    rest.length ? waiting(rest, told.zone) : h("p", {}, refused.length ? "Nothing else waits." : "Everything is with the office."),
  ] };
}

const STATES = { waiting: "not sent", taken: "the office has it; the second machine not yet", refused: "not taken" };

const waiting = (items, zone) => h("ul", { class: "written" }, items.map((item) => h("li", {}, `${clock(zone, item.entry.happened)} ${inWords(item.entry)} `, h("span", { class: "hint" }, STATES[item.state]))));
