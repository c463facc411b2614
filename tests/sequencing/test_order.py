"""The sequencing search on small cases that follow by hand, on random ones against brute force, and at size."""

from __future__ import annotations

import itertools
import random

import networkx as nx
import pytest

from planner.ordering import COSTS as ONE_EACH
from planner.ordering import _changes_left
from planner.sequence import Search, order
from planner.tasks import Costs, Hand, Task, Tasks


def task(name, tool, *after, setup="s"):
    return Task(name, ((Hand("m", setup, tool), 0.0),), frozenset(after))


def test_tools_are_grouped():
    found = order([task("a", "T1"), task("b", "T2"), task("c", "T1")], Costs())
    assert found.changes["tool"] == 1 and found.optimal


def test_precedence_forces_a_tool_twice():
    found = order([task("a", "T1"), task("b", "T2", "a"), task("c", "T1", "b")], Costs())
    assert [name for name, _ in found.steps] == ["a", "b", "c"] and found.changes["tool"] == 2


def test_a_new_machine_is_a_new_setup_and_a_new_tool_too():
    """Change of machine 100 + setup 10 + tool 1 = 111 (cost model of the published process-planning problems)."""
    costs = Costs(machine=100, setup=10, tool=1)
    assert costs.change(Hand("m1", "s", "t"), Hand("m2", "s", "t")) == 111
    assert costs.change(Hand("m1", "s", "t"), Hand("m1", "r", "t")) == 10
    assert costs.change(None, Hand("m1", "s", "t")) == 0


def test_of_alternatives_exactly_one_is_done():
    a = Task("a1", ((Hand("m", "s", "T1"), 0.0),), group="a")
    b = Task("a2", ((Hand("m", "s", "T2"), 0.0),), group="a")
    found = order([a, b, task("c", "T2")], Costs())
    assert [name for name, _ in found.steps] in (["a2", "c"], ["c", "a2"]) and found.cost == 0


def test_a_dearer_hand_is_taken_where_it_saves_a_change():
    """b costs 3 with T1 or 1 with T2; a change costs 5: staying with T1 is cheaper by 3."""
    b = Task("b", ((Hand("m", "s", "T1"), 3.0), (Hand("m", "s", "T2"), 1.0)))
    assert order([task("a", "T1"), b, task("c", "T1", "b")], Costs(tool=5)).cost == 3.0
    assert order([task("a", "T1"), b], Costs(tool=1)).cost == 2.0


def test_a_cycle_is_refused():
    with pytest.raises(ValueError, match="cycle"):
        order([task("a", "T1", "b"), task("b", "T1", "a")], Costs())


def brute(tasks, costs):
    best = float("inf")
    for names in itertools.permutations(tasks):
        done, hand, cost = set(), None, 0.0
        for t in names:
            if not t.after <= done:
                break
            options = [(costs.change(hand, h) + c, h) for h, c in t.hands]
            paid, hand = min(options, key=lambda o: (o[0], o[1]))
            cost += paid
            done.add(t.id)
        else:
            best = min(best, cost)
    return best


@pytest.mark.parametrize("seed", range(15))
def test_random_orders_against_brute_force(seed):
    """Seven operations with one hand each: all 5,040 orders tried."""
    rng = random.Random(seed)
    tasks = []
    for i in range(7):
        after = [f"t{j}" for j in range(i) if rng.random() < 0.3]
        tasks.append(task(f"t{i}", f"T{rng.randint(1, 4)}", *after, setup=rng.choice("ab")))
    costs = Costs(setup=rng.choice((0, 3)), tool=1)
    found = order(tasks, costs)
    assert found.optimal and found.cost == pytest.approx(brute(tasks, costs))


def test_past_the_limit_the_order_still_holds_and_the_bound_is_honest():
    rng = random.Random(5)
    tasks = []
    for i in range(120):
        after = [f"t{j}" for j in rng.sample(range(i), min(i, 2))] if rng.random() < 0.6 else []
        tasks.append(task(f"t{i}", f"T{rng.randint(1, 12)}", *after))
    found = order(tasks, Costs(), max_states=200)
    place = {name: i for i, (name, _) in enumerate(found.steps)}
    assert all(place[b] < place[t.id] for t in tasks for b in t.after)
    assert len(place) == 120 and 11 <= found.lower_bound < found.cost and not found.optimal


def test_two_hundred_operations_with_shallow_precedence_are_exact():
    """Spot (T0), drill (T1..T9), tap (T10..T12) of 70 holes: 1 + 9 + 3 cutters, all in one go each, so 12 changes."""
    tasks = []
    for i in range(70):
        tasks += [task(f"spot{i}", "T0"), task(f"drill{i}", f"T{1 + i % 9}", f"spot{i}")]
        tasks.append(task(f"tap{i}", f"T{10 + i % 3}", f"drill{i}"))
    found = order(tasks, Costs())
    assert found.optimal and found.changes["tool"] == 12


def mixed(rng, count):
    """Tasks with up to three earlier ones before them, two machines, four directions and six cutters."""
    tasks = []
    for i in range(count):
        hands = {
            Hand(m, d, t)
            for m in rng.sample(["m1", "m2"], rng.randint(1, 2))
            for d in rng.sample("abcd", rng.choice((1, 1, 2)))
            for t in rng.sample(["T1", "T2", "T3", "T4", "T5", "T6"], rng.choice((1, 2)))
        }
        after = frozenset(rng.sample([f"o{k}" for k in range(i)], min(i, rng.randint(0, 3))))
        tasks.append(Task(f"o{i}", tuple((h, 30.0 if h.machine == "m1" else 20.0) for h in sorted(hands)), after))
    return tasks


COSTS = Costs(machine=160, setup=100, tool=20)


@pytest.mark.parametrize("seed", range(4))
def test_where_the_exact_search_gives_up_a_narrow_one_comes_near(seed):
    """Twelve tasks, whose optimum the exact search proves: with 5 states it gives up, and what it returns is within 15 %."""
    tasks = mixed(random.Random(seed), 12)
    exact, short = order(tasks, COSTS), order(tasks, COSTS, max_states=5)
    assert exact.optimal and short.lower_bound <= exact.cost <= short.cost <= 1.15 * exact.cost


def test_a_narrow_order_keeps_precedence_and_says_its_bound():
    tasks = mixed(random.Random(9), 30)
    found = order(tasks, COSTS, max_states=300)
    place = {name: i for i, (name, _) in enumerate(found.steps)}
    assert len(place) == 30 and all(place[a] < place[t.id] for t in tasks for a in t.after)
    assert not found.optimal and 0 < found.lower_bound < found.cost
    assert found == order(tasks, COSTS, max_states=300), "the same tasks give the same order"


def process(n, seed):
    """A process-planning problem of `n` operations on three machines, six access directions, as many cutters as n / 2."""
    rng = random.Random(seed)
    machines, tools = ["m1", "m2", "m3"], [f"t{i}" for i in range(n // 2)]
    use = {name: rng.choice([3, 5, 10, 20, 35, 70]) for name in (*machines, *tools)}
    out = []
    for i in range(n):
        ways = itertools.product(
            rng.sample(machines, rng.randint(1, 3)),
            rng.sample(["+x", "-x", "+y", "-y", "+z", "-z"], rng.choice([1, 1, 2, 3])),
            rng.sample(tools, rng.choice([1, 1, 2, 3])),
        )
        hands = tuple((Hand(m, s, t), float(use[m] + use[t])) for m, s, t in ways)
        after = frozenset(f"o{j}" for j in rng.sample(range(i), min(i, rng.choice([0, 1, 1, 2]))))
        out.append(Task(f"o{i}", hands, after))
    return out


@pytest.mark.parametrize("seed", range(3))
def test_sixteen_operations_on_three_machines_are_proven(seed):
    """Larger in choices than the published problems; the plain bound on tools and setups alone finds the same where it ends."""
    costs = Costs(machine=160, setup=100, tool=20)
    found = order(process(16, seed), costs, max_states=40_000)
    assert found.optimal
    nothing = order(process(9, seed), costs, bound=lambda *_: 0.0, max_states=400_000)
    assert order(process(9, seed), costs).cost == pytest.approx(nothing.cost) and nothing.optimal


@pytest.mark.parametrize("seed", range(8))
def test_turns_of_a_cutter_along_a_chain_never_count_too_many(seed):
    """The plan's own bound on cutter changes against a search that knows no bound."""
    rng = random.Random(seed)
    jobs = [
        Task(f"o{i}", ((Hand("", "", rng.choice("ABCD")), 0.0),), frozenset(f"o{j}" for j in range(i) if rng.random() < 0.25))
        for i in range(14)
    ]  # fmt: skip
    pool = Tasks(jobs)
    for start in (None, Hand("", "", "A"), Hand("", "", "Z")):
        bounded = Search(pool, ONE_EACH, _changes_left(pool)).run([start], 200_000)
        blind = Search(pool, ONE_EACH, lambda *_: 0.0).run([start], 200_000)
        assert bounded[0][0].cost == blind[0][0].cost >= _changes_left(pool)(pool, 0, start)


def alternatives(rng):
    """Six operations in random precedence, two pairs of them alternatives, each with one to three hands."""
    ids = [f"t{i}" for i in range(6)]
    group = {"t0": "p", "t1": "p", "t2": "q", "t3": "q"}
    tasks = []
    for i, name in enumerate(ids):
        after = frozenset(a for a in ids[:i] if rng.random() < 0.4 and (a not in group or group[a] != group.get(name)))
        hands = {Hand(rng.choice("mn"), rng.choice("ab"), f"T{rng.randint(1, 3)}") for _ in range(rng.randint(1, 3))}
        priced = tuple((h, float(rng.randint(1, 9))) for h in sorted(hands))
        tasks.append(Task(name, priced, after, group.get(name, "")))
    return tasks


def shortest(tasks, costs):
    """The same by networkx: for each choice of alternatives the shortest path over (operations done, hand)."""
    grouped = {}
    for t in tasks:
        grouped.setdefault(t.group or t.id, []).append(t)
    best = float("inf")
    for chosen in itertools.product(*grouped.values()):
        names = {t.id for t in chosen}
        net, todo = nx.DiGraph(), [(frozenset(), None)]
        while todo:
            done, hand = todo.pop()
            for t in (t for t in chosen if t.id not in done and t.after & names <= done):
                for h, price in t.hands:
                    after = (done | {t.id}, h)
                    if after not in net:
                        todo.append(after)
                    net.add_edge((done, hand), after, weight=costs.change(hand, h) + price)
            if done == names:
                net.add_edge((done, hand), "end", weight=0.0)
        best = min(best, nx.shortest_path_length(net, (frozenset(), None), "end", weight="weight"))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_random_alternatives_against_shortest_paths(seed):
    """What waits for one of two alternatives need not wait where the other is chosen. Reference: networkx."""
    rng = random.Random(seed)
    tasks, costs = alternatives(rng), Costs(machine=rng.choice((0, 5)), setup=rng.choice((0, 3)), tool=2)
    found = order(tasks, costs)
    assert found.optimal and found.cost == pytest.approx(shortest(tasks, costs))
