// Finding an article by words with no signal: rare words count most, near beginnings count half.

const words = (text) => text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "").match(/[\p{L}\p{N}]+/gu) ?? [];

/** An index over articles and trees. */
export function index(library) {
  const found = [
    ...Object.entries(library.articles).map(([slug, one]) => ({ slug, kind: "article", one })),
    ...Object.entries(library.trees).map(([slug, one]) => ({ slug, kind: "tree", one })),
  ].map((entry) => ({
    ...entry,
    title: new Set(words(entry.one.title)),
    all: new Set(words([entry.one.title, ...entry.one.phrases].join(" "))),
  }));
  const in_ = new Map();
  for (const entry of found) for (const word of entry.all) in_.set(word, (in_.get(word) ?? 0) + 1);
  return { found, rarity: (word) => Math.log(1 + found.length / (in_.get(word) ?? found.length)) };
}

/** The best texts for some words, or the one whose short code was typed. */
export function search({ found, rarity }, typed, most = 8) {
  const asked = words(typed);
  const coded = found.filter((entry) => entry.one.code && asked.includes(entry.one.code));
  const scored = found.map((entry) => ({ entry, score: asked.reduce((sum, word) => sum + worth(entry, word, rarity), 0) }));
  const best = scored.filter((one) => one.score > 0).sort((a, b) => b.score - a.score).map((one) => one.entry);
  return [...new Set([...coded, ...best])].slice(0, most);
}

function worth(entry, word, rarity) {
  if (entry.all.has(word)) return rarity(word) * (entry.title.has(word) ? 1.5 : 1);
  if (word.length < 4) return 0;
  const near = [...entry.all].find((one) => one.startsWith(word.slice(0, Math.max(4, word.length - 2))));
  return near ? rarity(near) / 2 : 0;
}
