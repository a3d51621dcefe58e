"""The best plan of seasons as a mixed integer program, solved by HiGHS (SciPy's milp): one season a line in, one answer out.

A season is what the model expects of each batch that stands or could be filled (`Ground`), and nothing of how plans are
searched for. Two batches may share a bay here whenever their volumes fit into the bays of the kind together, which allows a
little more than can be done: what is proven here is a bound for every plan.
"""

import json
import sys

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_matrix


class Program:
    def __init__(self):
        self.worth, self.whole, self.most, self.rows, self.low, self.high = [], [], [], [], [], []

    def variable(self, worth, whole, most=1.0):
        self.worth.append(worth)
        self.whole.append(whole)
        self.most.append(most)
        return len(self.worth) - 1

    def row(self, terms, low, high):
        self.rows.append(terms)
        self.low.append(low)
        self.high.append(high)

    def solve(self, seconds):
        entries = [(i, j, value) for i, terms in enumerate(self.rows) for j, value in terms]
        i, j, value = zip(*entries)
        matrix = coo_matrix((value, (i, j)), shape=(len(self.rows), len(self.worth))).tocsr()
        answer = milp(
            -np.array(self.worth),
            constraints=LinearConstraint(matrix, self.low, self.high),
            bounds=Bounds(0, self.most),
            integrality=self.whole,
            options={"time_limit": seconds, "mip_rel_gap": 1e-4},
        )
        best = None if answer.x is None else -answer.fun
        bound = None if answer.mip_dual_bound is None else -answer.mip_dual_bound
        return best, bound, answer.message


def program(season):
    weeks, kinds, wants = season["weeks"], season["kinds"], season["wants"]
    spare, refused, crowded = season["spare"], season["refused"], season["crowded"]
    lp = Program()
    taken = {(kind, week): [] for kind in range(len(kinds)) for week in range(weeks)}
    forked = {week: [] for week in range(weeks)}
    opened = {week: [] for week in range(weeks)}
    shared = {}
    given = {demand: [] for demand in range(len(wants))}
    chain = {node: [] for node in range(weeks + 1)}
    least = min((life["turned_m3"] for batch in season["batches"] for life in batch["lives"] if life["turn"]), default=0.0)

    def live(batch, life, end, joins):
        """A batch in a life, emptied in a week; its worth but for what demands take."""
        column = lp.variable(spare * life["ends"][end] - life["labour"] - refused * batch["refused"], 1)
        turn = life["turn"]
        until = end if turn is None else min(turn[0] + 1, weeks)
        for week in range(batch["start"], until):
            taken[batch["kind"], week].append((column, 1.0))
        if turn is not None:
            forked[turn[0]].append((column, 1.0))
            place = shared.setdefault((turn[0], turn[1], end), ([], []))
            place[joins].append((column, life["turned_m3"]))
            if not joins:
                opened[turn[0]].append((column, -1.0))
                for week in range(turn[0], end):
                    taken[turn[1], week].append((column, 1.0))
        shares = []
        for demand, volume in life["serves"]:
            if wants[demand]["week"] <= end:
                worth = wants[demand]["weight"] * volume - spare * life["ends"][end]
                share = lp.variable(worth, 0)
                shares.append((share, 1.0))
                given[demand].append((share, volume))
        if shares:
            lp.row(shares + [(column, -1.0)], -np.inf, 0.0)
        return column

    for batch in season["batches"]:
        columns = []
        for life in batch["lives"]:
            life["ends"] = {int(week): volume for week, volume in life["ends"].items()}
            for end in life["ends"]:
                columns.append(live(batch, life, end, 0))
                if life["turn"] and life["turned_m3"] + least <= kinds[life["turn"][1]]["capacity"]:
                    columns.append(live(batch, life, end, 1))
        if batch["fill"]:
            chain[batch["start"]] += [(column, 1.0) for column in columns]
            chain[batch["close"]] += [(column, -1.0) for column in columns]
        else:
            lp.row([(column, 1.0) for column in columns], 1.0, 1.0)
    for week in range(weeks):
        if week > 0 or not season["filling"]:
            idle = lp.variable(-refused * season["inflow"][week], 1)
            chain[week].append((idle, 1.0))
            chain[week + 1].append((idle, -1.0))
    for node, terms in chain.items():
        flow = 1.0 if node == 0 else -1.0 if node == weeks else 0.0
        lp.row(terms, flow, flow)
    for (kind, week), terms in taken.items():
        lp.row(terms, -np.inf, kinds[kind]["bays"])
    for week in range(weeks):
        if forked[week]:
            lp.row(forked[week], -np.inf, season["turns_per_week"])
        if season["keep_free"]:
            full = lp.variable(-crowded, 0)
            all_taken = [term for kind in range(len(kinds)) for term in taken[kind, week]]
            bays = sum(kind["bays"] for kind in kinds)
            lp.row(all_taken + opened[week] + [(full, -1.0)], -np.inf, bays - 1)
    for (_, kind, _), (hosts, guests) in shared.items():
        if guests:
            lp.row([(column, 1.0) for column, _ in guests] + [(column, -1.0) for column, _ in hosts], -np.inf, 0.0)
            room = kinds[kind]["capacity"]
            lp.row(guests + [(column, volume - room) for column, volume in hosts], -np.inf, 0.0)
    for demand, terms in given.items():
        if terms:
            lp.row(terms, -np.inf, wants[demand]["volume"])
    return lp


for line in sys.stdin:
    season = json.loads(line)
    best, bound, message = program(season).solve(season["seconds"])
    print(json.dumps({"best": best, "bound": bound, "message": message}), flush=True)
