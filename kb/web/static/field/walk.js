// Walking a tree, as the server does (kb/triage/walk.py): the answers are replayed from the first step.

/** Where a branch lands: the tree and the step; a branch without a step leads to the tree's first. */
function landing(trees, branch) {
  const [, , tree, step] = branch;
  return trees[tree] ? [tree, step || trees[tree].first] : null;
}

/** The walk of these answers ([tree, step, label], the later one holds): its way, and where it stands. */
export function walk(trees, start, answers) {
  const given = new Map(answers.map(([tree, step, label]) => [`${tree}.${step}`, label]));
  const path = [];
  let [tree, step] = [start, trees[start].first];
  for (;;) {
    const here = trees[tree].steps[step];
    const label = given.get(`${tree}.${step}`);
    given.delete(`${tree}.${step}`);
    const branch = here.branches.find(([name]) => name === label);
    const next = branch && landing(trees, branch);
    if (!next) return { path, tree, id: step, step: here };
    path.push({ tree, id: step, step: here, label: branch[1] });
    [tree, step] = next;
  }
}
