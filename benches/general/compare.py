"""The same jobs given to flitchwork and to two general tools in the same time, and the ratio of what the boards cost.

What is compared: clear, flat, surfaced boards of one species and thickness, parts of one thickness, a kerf, no allowances, no
credit: the part of the problem that every tool can be told. The general tools may place a rectangle anywhere on a board;
flitchwork cuts every board by crosscut, rip and crosscut, as a saw must, so what it finds is harder to find.

  - rectpack, a packer of rectangles (PyPI): every packing rule and order it has, boards in several orders, the best of all.
  - CP-SAT of OR-Tools, a constraint solver (PyPI): an optional pair of intervals a piece and board, no overlap, least cost.

Usage: compare.py FLITCHWORK SECONDS SEED...   (needs rectpack and ortools)
"""

import itertools
import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import rectpack
from ortools.sat.python import cp_model

KERF = 2  # of 16 to the inch, the unit of every length here
UNITS = 16


def made_up(flitchwork, seed, boards, pieces, folder):
    """A job and a pile of the program's own sampler, stripped to what every tool can be told."""
    line = [flitchwork, "sample", "--seed", str(seed), "--boards", str(boards), "--pieces", str(pieces), "--out", folder]
    subprocess.run(line, check=True, capture_output=True)
    read = lambda name: json.loads((Path(folder) / name).read_text())
    job, pile = read("job.json"), read("pile.json")
    wood = max({p["species"] for p in job["parts"]}, key=lambda s: sum(p["qty"] for p in job["parts"] if p["species"] == s))
    on_grid = lambda length: max(1, round(length * UNITS))
    parts = [
        (p["id"], on_grid(p["length"] + sum(p.get("tenons", []))), on_grid(p["width"]), p["qty"])
        for p in job["parts"]
        if p["species"] == wood and p["thickness"] <= 0.75
    ]
    stock = [
        (b["id"], on_grid(b["length"]), on_grid(b["width"]), round(100 * b["price_per_bf"] * b["length"] * b["width"] / 144))
        for b in pile["boards"]
        if b["species"] == wood and b["nominal"] == "4/4"
    ]
    return parts, stock


def by_flitchwork(flitchwork, parts, stock, seconds, folder):
    inches = lambda n: f"{n}/{UNITS}"
    nothing = ["length", "width", "face", "face_surfaced"]
    job = {
        "format": "flitchwork.job/1",
        "units": "in",
        "shop": {
            "kerf": {"rip": inches(KERF), "crosscut": inches(KERF)},
            "trim": {"board_end": 0, "snipe": 0, "edge": 0, "far_edge": 0},
            "allowance": {name: 0 for name in nothing},
            "machine": {"min_length": 0, "min_rip_length": 0, "planer_width": 99, "jointer_width": 99},
            "keep": {"credit": 0},
        },
        "parts": [
            {"id": name, "qty": n, "species": "ash", "thickness": "3/4", "length": inches(l), "width": inches(w), "faces": "any"}
            for name, l, w, n in parts
        ],
    }
    pile = {
        "format": "flitchwork.pile/1",
        "units": "in",
        "boards": [
            {"id": name, "species": "ash", "nominal": "4/4", "thickness": "3/4", "surfaced": "s4s",
             "length": inches(l), "width": inches(w), "cost": cost / 100}
            for name, l, w, cost in stock
        ],
    }
    files = {name: Path(folder) / f"{name}.json" for name in ("job", "pile", "plan")}
    files["job"].write_text(json.dumps(job))
    files["pile"].write_text(json.dumps(pile))
    line = [flitchwork, "plan", files["job"], "--pile", files["pile"], "--seconds", str(seconds), "--out", files["plan"]]
    done = subprocess.run([str(word) for word in line], capture_output=True, text=True)
    if done.returncode != 0:
        return None, None, done.stderr or done.stdout
    plan = json.loads(files["plan"].read_text())
    return round(100 * plan["cost"]), round(100 * plan["bound"]), plan["stop"]


def by_rectpack(parts, stock, seconds):
    """Every rule, sorting and order of boards, until the time is up; the least cost of boards used when all is packed."""
    end = time.monotonic() + seconds
    rules = [rule for name in ("Maxrects", "Guillotine", "Skyline") for rule in rules_of(name)]
    sorts = [getattr(rectpack, name) for name in dir(rectpack) if name.startswith("SORT_")]
    orders = [lambda b: b[3] / (b[1] * b[2]), lambda b: b[3], lambda b: -b[1] * b[2], lambda b: -b[3]]
    wanted = sum(n for *_, n in parts)
    best, rng = None, random.Random(1)
    tries = list(itertools.product(rules, sorts, (rectpack.PackingBin.BFF, rectpack.PackingBin.Global), orders))
    rng.shuffle(tries)
    for rule, sort, into, order in itertools.cycle(tries):
        if time.monotonic() >= end:
            return best
        boards = sorted(stock, key=lambda b: order(b) * rng.uniform(0.9, 1.1))
        packer = rectpack.newPacker(bin_algo=into, pack_algo=rule, sort_algo=sort, rotation=False)
        for _, length, width, n in parts:
            for _ in range(n):
                packer.add_rect(length + KERF, width + KERF)
        for _, length, width, _ in boards:
            packer.add_bin(length + KERF, width + KERF)
        packer.pack()
        if len(packer.rect_list()) == wanted:
            cost = sum(boards[i][3] for i in {rect[0] for rect in packer.rect_list()})
            best = cost if best is None else min(best, cost)


def rules_of(name):
    return [getattr(rectpack, rule) for rule in dir(rectpack) if rule.startswith(name)]


def by_constraints(parts, stock, seconds):
    """Least cost of the boards used, or nothing when no answer was found in time; and the solver's own bound."""
    model = cp_model.CpModel()
    used = [model.new_bool_var(f"used {b[0]}") for b in stock]
    across = [([], []) for _ in stock]
    areas = [[] for _ in stock]
    for name, length, width, n in parts:
        before = None
        for copy in range(n):
            places = []
            for i, (_, whole, wide, _) in enumerate(stock):
                if length > whole or width > wide:
                    continue
                here = model.new_bool_var(f"{name} {copy} on {i}")
                x = model.new_int_var(0, whole - length, "")
                y = model.new_int_var(0, wide - width, "")
                across[i][0].append(model.new_optional_fixed_size_interval_var(x, length + KERF, here, ""))
                across[i][1].append(model.new_optional_fixed_size_interval_var(y, width + KERF, here, ""))
                areas[i].append((here, (length + KERF) * (width + KERF)))
                model.add_implication(here, used[i])
                places.append((i, here))
            model.add_exactly_one(here for _, here in places)
            place = sum(i * here for i, here in places)
            if before is not None:
                model.add(before <= place)  # copies are alike
            before = place
    for i, (_, whole, wide, _) in enumerate(stock):
        model.add_no_overlap_2d(*across[i])
        model.add(sum(area * here for here, area in areas[i]) <= (whole + KERF) * (wide + KERF) * used[i])
    model.minimize(sum(cost * use for use, (*_, cost) in zip(used, stock)))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    status = solver.solve(model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (round(solver.objective_value) if found else None), round(solver.best_objective_bound)


def main():
    flitchwork, seconds, seeds = sys.argv[1], float(sys.argv[2]), [int(seed) for seed in sys.argv[3:]]
    print("| boards / pieces | flitchwork | its bound | rectpack | ratio | CP-SAT | its bound | ratio |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for (boards, pieces), seed in itertools.product(((12, 30), (40, 120)), seeds):
        with tempfile.TemporaryDirectory() as folder:
            parts, stock = made_up(flitchwork, seed, boards, pieces, folder)
            ours, bound, stop = by_flitchwork(flitchwork, parts, stock, seconds, folder)
        if ours is None:
            print(f"seed {seed}, {boards} / {pieces}: {stop.strip().splitlines()[0]}", file=sys.stderr)
            continue
        packed = by_rectpack(parts, stock, seconds)
        solved, their_bound = by_constraints(parts, stock, seconds)
        ratio = lambda other: "none found" if other is None else f"{ours / other:.3f}"
        money = lambda cents: "-" if cents is None else f"{cents / 100:.2f}"
        count = sum(n for *_, n in parts)
        print(
            f"| {len(stock)} / {count} | {money(ours)} | {money(bound)} | {money(packed)} | {ratio(packed)} "
            f"| {money(solved)} | {money(their_bound)} | {ratio(solved)} |",
            flush=True,
        )


main()
