"""Writes cases.json: tiny cutting problems and their optimum by a general mixed-integer solver.

Every lawful way to cut one piece of stock is enumerated, at every whole position, as the set of parts it yields; then
the least cost of stock that yields exactly the demand is an integer programme over these sets, solved by HiGHS.
Run: python make.py (needs highspy); the file is written beside this one. README.md says what it holds.
"""

import functools
import json
import pathlib
import random

import highspy


def total(one, other):
    return tuple(a + b for a, b in zip(one, other))


def sums(firsts, seconds, demand):
    both = (total(a, b) for a in firsts for b in seconds)
    return frozenset(s for s in both if all(n <= d for n, d in zip(s, demand)))


def row(at, end, kerf, demand, spans):
    """Sets of parts of a row of spans, `kerf` apart; spans(at) gives (length, sets) of those that may begin there."""
    none = frozenset([tuple(0 for _ in demand)])
    tails = {}
    for x in range(end, at - 1, -1):
        found = set(tails.get(x + 1, none))
        for length, sets in spans(x):
            if x + length <= end:
                found |= sums(sets, tails.get(x + length + kerf, none), demand)
        tails[x] = frozenset(found)
    return tails.get(at, none)


def one(item, demand):
    return frozenset([tuple(int(i == item) for i in range(len(demand)))])


def stick_sets(case, stock):
    demand = tuple(part["demand"] for part in case["parts"])
    spans = [(part["length"], one(i, demand)) for i, part in enumerate(case["parts"])]
    return row(case["trim"], stock["length"] - case["trim"], case["kerf"], demand, lambda x: spans)


def sheet_sets(case, stock):
    """Guillotine cuts in so many stages; a stage is a change of direction, and trimming a single part is free."""
    demand = tuple(part["demand"] for part in case["parts"])
    sizes = [(i, part["length"], part["width"]) for i, part in enumerate(case["parts"])]
    sizes += [(i, part["width"], part["length"]) for i, part in enumerate(case["parts"]) if part["turns"]]

    @functools.cache
    def sets(length, width, cross, stages):
        found = {tuple(0 for _ in demand)}
        for i, l, w in sizes:
            if l <= length and w <= width:
                found |= one(i, demand)
        if stages > 0:
            size = (lambda s: (s, width)) if cross else (lambda s: (length, s))
            end = length if cross else width
            spans = lambda x: [(s, sets(*size(s), not cross, stages - 1)) for s in range(1, end - x + 1)]
            found |= row(0, end, case["kerf"], demand, spans)
        return frozenset(found)

    inside = (stock["length"] - 2 * case["trim"], stock["width"] - 2 * case["trim"])
    return sets(*inside, True, case["stages"]) | sets(*inside, False, case["stages"])


def board_sets(case, stock):
    """Sections, ripped into strips as wide as a part, crosscut around the defects."""
    demand = tuple(part["demand"] for part in case["parts"])
    kerf, trim = case["kerf"], case["trim"]

    def clear(x, y, part):
        return not any(
            x0 < x + part["length"] and x < x1 and y0 < y + part["width"] and y < y1
            for x0, x1, y0, y1 in stock["defects"]
        )

    @functools.cache
    def strip(y, width, begin, end):
        parts = [(i, part) for i, part in enumerate(case["parts"]) if part["width"] == width]
        at = lambda x: [(part["length"], one(i, demand)) for i, part in parts if clear(x, y, part)]
        return row(begin, end, kerf, demand, at)

    @functools.cache
    def section(begin, end):
        widths = sorted({part["width"] for part in case["parts"]})
        return row(0, stock["width"], kerf, demand, lambda y: [(w, strip(y, w, begin, end)) for w in widths])

    end = stock["length"] - trim
    return row(trim, end, kerf, demand, lambda x: [(l, section(x, x + l)) for l in range(1, end - x + 1)])


SETS = {"sticks": stick_sets, "sheets": sheet_sets, "boards": board_sets}


def optimum(case):
    """Least cost of stock that yields exactly the demand; None when there is none."""
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", 0.0)
    model.setOptionValue("threads", 1)
    cost, made = 0, [0 for _ in case["parts"]]
    for stock in case["stock"]:
        sets = [s for s in SETS[case["kind"]](case, stock) if any(s)]
        uses = [model.addIntegral(lb=0, ub=stock["count"]) for _ in sets]
        if not sets:
            continue
        model.addConstr(sum(uses) <= stock["count"])
        cost += stock["cost"] * sum(uses)
        for i in range(len(made)):
            made[i] += sum(s[i] * use for s, use in zip(sets, uses) if s[i])
    for of_part, part in zip(made, case["parts"]):
        if isinstance(of_part, int):
            return None
        model.addConstr(of_part == part["demand"])
    model.minimize(cost)
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return round(model.getObjectiveValue())


def sticks(rng):
    parts = [{"length": rng.randint(9, 40), "demand": rng.randint(1, 5)} for _ in range(rng.randint(2, 4))]
    lengths = rng.sample(range(40, 97, 8), 3)
    stock = [{"length": n, "count": rng.randint(1, 6), "cost": n // 4 + rng.randint(0, 6)} for n in lengths]
    return {"kind": "sticks", "kerf": rng.randint(0, 2), "trim": rng.randint(0, 2), "parts": parts, "stock": stock}


def sheets(rng):
    parts = [
        {"length": rng.randint(2, 7), "width": rng.randint(2, 6), "demand": rng.randint(1, 3), "turns": rng.random() < 0.5}
        for _ in range(rng.randint(2, 3))
    ]
    stock = []
    for _ in range(2):
        length, width = rng.randint(8, 14), rng.randint(7, 12)
        stock.append({"length": length, "width": width, "count": 2, "cost": length * width // 4 + rng.randint(0, 9)})
    stages = rng.randint(2, 3)
    return {"kind": "sheets", "kerf": rng.randint(0, 1), "trim": rng.randint(0, 1), "stages": stages, "parts": parts, "stock": stock}


def boards(rng):
    parts = [
        {"length": rng.randint(4, 9), "width": rng.randint(2, 4), "demand": rng.randint(1, 3)}
        for _ in range(rng.randint(2, 3))
    ]
    stock = []
    for _ in range(4):
        length, width = rng.randint(14, 24), rng.randint(4, 8)
        defects = []
        for _ in range(rng.randint(1, 3)):
            x, y = rng.randrange(length - 1), rng.randrange(width - 1)
            defects.append([x, x + rng.randint(1, 3), y, y + rng.randint(1, 2)])
        stock.append({"length": length, "width": width, "count": 1, "cost": length * width // 3 + rng.randint(0, 9), "defects": defects})
    return {"kind": "boards", "kerf": rng.randint(0, 1), "trim": rng.randint(0, 1), "parts": parts, "stock": stock}


def main():
    rng = random.Random(20)
    cases = []
    for make, wanted in [(sticks, 10), (sheets, 6), (boards, 8)]:
        while wanted:
            case = make(rng)
            best = optimum(case)
            if best is not None:
                cases.append(case | {"optimum": best})
                wanted -= 1
    lines = ",\n".join("  " + json.dumps(case) for case in cases)
    text = '{ "solver": "HiGHS %s", "cases": [\n%s\n] }\n' % (highspy.Highs().version(), lines)
    pathlib.Path(__file__).with_name("cases.json").write_text(text)


if __name__ == "__main__":
    main()
