"""Mutation testing of the rules: a seeded sample, in shards that can be stopped and taken up again.

    python3 tests/alone/mutants.py [--seed 1] [--shards 15] [--of 20]

Every mutant of the rules is in one of the shards of about twenty; the seed says which fifteen of them are run.

Needs cargo-mutants. The rules are copied under target/mutants, so that no mutant ever touches the checkout; each
shard that has ended leaves its answer there and is not run again until the sources or the sample change.
"""

import argparse
import hashlib
import json
import os
import pathlib
import random
import shutil
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
PLACE = HERE.parent.parent / "target" / "mutants"
# A case that a property test kept from one mutant would be tried, and perhaps fail, on all the others.
ALONE = {**os.environ, "PROPTEST_DISABLE_FAILURE_PERSISTENCE": "1"}
SURVIVED = {"MissedMutant"}
CAUGHT = {"CaughtMutant", "Timeout"}


def fresh_tree():
    """A copy without links; the build folder of an earlier run is kept."""
    tree = PLACE / "tree"
    if tree.exists():
        shutil.rmtree(tree)
    shutil.copytree(HERE, tree, symlinks=False, ignore=shutil.ignore_patterns("target", "mutants.out*"))
    return tree


def count_mutants(tree):
    listed = subprocess.run(
        ["cargo", "mutants", "--list", "--json"], cwd=tree, check=True, capture_output=True, text=True
    )
    return len(json.loads(listed.stdout))


def run_shard(tree, shard, folder):
    """Runs one shard to its end and keeps what came out of each mutant."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    subprocess.run(
        ["cargo", "mutants", "--shard", shard, "--sharding", "round-robin", "--in-place", "--output", str(folder),
         "--no-shuffle", "--timeout", "90", "--baseline", "skip"],
        cwd=tree,
        env=ALONE,
        check=False,
    )
    outcomes = json.loads((folder / "mutants.out" / "outcomes.json").read_text())["outcomes"]
    answers = {one["scenario"]["Mutant"]["name"]: one["summary"] for one in outcomes if one["scenario"] != "Baseline"}
    (folder / "answers.json").write_text(json.dumps(answers, indent=1))


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--shards", type=int, default=15)
    asked.add_argument("--of", type=int, default=20)
    asked = asked.parse_args()
    PLACE.mkdir(parents=True, exist_ok=True)
    shutil.rmtree(PLACE / "proptest-regressions", ignore_errors=True)
    tree = fresh_tree()
    # The control: a test that fails without any mutant would catch them all.
    subprocess.run(["cargo", "test", "--lib", "--quiet"], cwd=tree, env=ALONE, check=True)
    found = count_mutants(tree)
    parts = -(-found // asked.of)
    chosen = sorted(random.Random(asked.seed).sample(range(parts), min(asked.shards, parts)))
    sources = hashlib.sha256(b"".join(path.read_bytes() for path in sorted(tree.rglob("*.rs"))))
    sources.update(json.dumps([asked.seed, asked.shards, asked.of]).encode())
    runs = PLACE / sources.hexdigest()[:16]
    print(f"{found} mutants in {parts} shards; shards {chosen}, by seed {asked.seed}; answers in {runs}", flush=True)
    answers = {}
    for shard in chosen:
        folder = runs / f"shard-{shard}"
        if not (folder / "answers.json").exists():
            run_shard(tree, f"{shard}/{parts}", folder)
        answers.update(json.loads((folder / "answers.json").read_text()))
    survived = sorted(name for name, summary in answers.items() if summary in SURVIVED)
    caught = sum(summary in CAUGHT for summary in answers.values())
    viable = caught + len(survived)
    print(f"{len(answers)} run: {caught} caught, {len(survived)} survived, {len(answers) - viable} do not build")
    print("\n".join(survived))
    if viable == 0:
        sys.exit("nothing was tested")
    print(f"{100 * caught / viable:.1f} % caught")


if __name__ == "__main__":
    main()
