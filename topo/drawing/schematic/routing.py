"""The router: finds the wires of a net, unit step by unit step, at the least cost.

A best-first search over points and directions (Hart, Nilsson and Raphael 1968), from all points of one group of a net
to all points of its others. Costs are integers, twentieths of a module of length.
"""

from __future__ import annotations

from heapq import heappop, heappush

from topo.drawing.schematic.board import BITS, COVERED, PIN, SPAN, STEPS, WIRE, Board
from topo.drawing.schematic.fields import FAR, Field
from topo.drawing.schematic.prices import (
    BEND,
    BESIDE_BODY,
    BESIDE_WIRE,
    CROSSING,
    IN_ZONE,
    UNIT,
    UNROUTED,
    joint,
)

_MARGIN = 7
# After so many points a search goes on for all points at once, where the board is not too large for that.
_FEW_STATES, _MOST_STATES = 120, 60_000
_FAR = 1 << 60
_PIN_OR_WIRE = PIN | WIRE
_COVERED_OR_WIRE = COVERED | WIRE


def _fewest_bends(ahead: int, aside: int, turn: int | None) -> int:
    """The fewest bends on the way to a target by the signs of its place ahead and aside.

    `turn` is the heading in which the target is entered without a bend, relative to the own one; None for any.
    """
    if turn is None:
        return 2 if ahead < 0 else 1 if aside else 0
    if turn == 0:
        return 4 if ahead < 0 else 2 if aside else 0
    if turn == 2:
        return 2 if aside else 4
    return 1 if ahead >= 0 and aside * (1 if turn == 1 else -1) >= 0 else 3


def _bend_table(goal: int | None) -> tuple[tuple[int, ...], ...]:
    """What bends cost at least: for each sign of the target's x and y (0, +, -) and each heading."""
    table = []
    for x in (0, 1, -1):
        for y in (0, 1, -1):
            row = []
            for heading in range(4):
                ahead, aside = ((x, y), (y, -x), (-x, -y), (-y, x))[heading]
                row.append(BEND * _fewest_bends(ahead, aside, None if goal is None else (goal - heading) % 4))
            table.append(tuple(row))
    return tuple(table)


# By the mask of a target that is a pin with no wire yet: it is entered straight along its lead.
_BENDS: dict[int | None, tuple[tuple[int, ...], ...]] = {
    None: _bend_table(None),
    **{1 << goal: _bend_table(goal) for goal in range(4)},
}


class Router:
    """Routes nets on a board. `box` bounds the search: left, top, right, bottom in the board's own numbers."""

    def __init__(self, board: Board, box: tuple[int, int, int, int], most_crossings: int | None = None) -> None:
        self.board = board
        self.box = box
        self.most_crossings = most_crossings

    def connect(self, net: str, most: int = _FAR) -> tuple[int, int]:
        """Join all groups of a net; (cost, number of groups that could not be joined).

        Where that would cost more than `most` it is given up; the cost given is then above it.
        """
        total, failed = 0, 0
        groups = self.board.groups(net)
        while len(groups) > 1:
            found = self._between(net, groups, most - total)
            if found is None:
                failed += 1
                total += UNROUTED
                if total > most:
                    break
                groups = groups[1:]
                continue
            cost, path, other = found
            total += cost
            if total > most:
                break
            self.board.draw(net, path)
            joined = [*groups[0], *path, *groups[other]]
            groups = [list(dict.fromkeys(joined)), *groups[1:other], *groups[other + 1 :]]
        return total, failed

    def _between(self, net: str, groups: list[list[int]], most: int) -> tuple[int, list[int], int] | None:
        """The cheapest path from the first group to another: cost, points, the other's index.

        Without points, and with what it costs at least, where that is more than `most`.
        """
        board = self.board
        target = {point: index for index, group in enumerate(groups) if index for point in group}
        boxes = [_box(group) for group in groups[1:]]
        x_low, y_low = min(box[0] for box in boxes), min(box[1] for box in boxes)
        x_high, y_high = max(box[2] for box in boxes), max(box[3] for box in boxes)
        bends = _BENDS[None]
        if len(target) == 1:
            bends = _BENDS.get(board.mask(net, next(iter(target))), bends)
        heap: list[tuple[int, int, int]] = []
        best: dict[int, int] = {}
        came: dict[int, int] = {}
        own = dict.fromkeys(groups[0])
        for point in groups[0]:
            mask = board.mask(net, point)
            count = BITS[mask]
            if count >= 3:
                continue
            x, y = point % SPAN, point // SPAN
            far_x = x_low - x if x < x_low else x_high - x if x > x_high else 0
            far_y = y_low - y if y < y_low else y_high - y if y > y_high else 0
            guess = UNIT * (abs(far_x) + abs(far_y))
            turns = bends[3 * (far_x > 0) + 6 * (far_x < 0) + (far_y > 0) + 2 * (far_y < 0)]
            for step in range(4):
                if mask >> step & 1:
                    continue
                cost = 0 if not mask else joint(mask, step, count)
                state = point * 4 + step
                if cost < best.get(state, _FAR):
                    best[state] = cost
                    came[state] = -1
                    heappush(heap, (cost + guess + turns[step], -cost, state))
        ink, wires = board.ink, board.wires
        left, top, right, bottom = self.box
        done = 0
        most_states = _FEW_STATES if board.holds(self.box) else _MOST_STATES
        while heap:
            least, cost, state = heappop(heap)
            if least > most:
                return least, [], 0
            cost = -cost
            if best[state] != cost:
                continue
            point, heading = state >> 2, state & 3
            if point in target and came[state] >= 0:
                path = [point]
                back = came[state]
                while back >= 0:
                    path.append(back >> 2)
                    back = came[back]
                path.reverse()
                # The last state stands for the arrival; its point is listed once.
                clean = [item for index, item in enumerate(path) if not index or item != path[index - 1]]
                return cost, clean, target[point]
            done += 1
            if done > most_states:
                return self._by_field(net, groups, target)
            next_point = point + STEPS[heading]
            x, y = next_point % SPAN, next_point // SPAN
            here = ink.get(next_point, 0)
            if here & COVERED or not (left <= x <= right and top <= y <= bottom):
                continue
            cost += UNIT
            straight_only = False
            if here & _PIN_OR_WIRE:
                if next_point in own:
                    continue
                if next_point in target:
                    mask = board.mask(net, next_point)
                    count = BITS[mask]
                    back_bit = (heading + 2) % 4
                    if count >= 3 or mask >> back_bit & 1:
                        continue
                    total = cost + (joint(mask, back_bit, count) if mask else 0)
                    arrived = next_point * 4 + heading
                    if total < best.get(arrived, _FAR):
                        best[arrived] = total
                        came[arrived] = state
                        heappush(heap, (total, -total, arrived))
                    continue
                if here & PIN:
                    continue
                crossed = wires[next_point]
                if len(crossed) > 1 or net in crossed:
                    continue
                (foreign,) = crossed.values()
                # Only straight over a wire that lies square to the heading.
                if foreign != (5 if heading & 1 else 10):
                    continue
                straight_only = True
                cost += CROSSING
            elif here:
                cost += IN_ZONE
            aside = STEPS[heading - 1]
            for beside in (next_point + aside, next_point - aside):
                near = ink.get(beside, 0)
                if near & _COVERED_OR_WIRE:
                    if near & COVERED:
                        cost += BESIDE_BODY
                    elif not straight_only and net not in wires[beside]:
                        cost += BESIDE_WIRE
            far_x = x_low - x if x < x_low else x_high - x if x > x_high else 0
            far_y = y_low - y if y < y_low else y_high - y if y > y_high else 0
            guess = UNIT * (abs(far_x) + abs(far_y))
            turns = bends[3 * (far_x > 0) + 6 * (far_x < 0) + (far_y > 0) + 2 * (far_y < 0)]
            following = next_point * 4 + heading
            if cost < best.get(following, _FAR):
                best[following] = cost
                came[following] = state
                heappush(heap, (cost + guess + turns[heading], -cost, following))
            if straight_only:
                continue
            cost += BEND
            for onward in (heading ^ 1, heading ^ 3):
                following = next_point * 4 + onward
                if cost < best.get(following, _FAR):
                    best[following] = cost
                    came[following] = state
                    heappush(heap, (cost + guess + turns[onward], -cost, following))
        return None

    def _by_field(self, net: str, groups: list[list[int]], target: dict[int, int]) -> tuple[int, list[int], int] | None:
        """As `_between`, from the costs of all points at once."""
        board = self.board
        field = Field(board, net, groups[0], self.box)
        best: tuple[int, int, int] | None = None
        for point in target:
            mask = board.mask(net, point)
            count = BITS[mask]
            for heading in range(4):
                back = (heading + 2) % 4
                row, column = point // SPAN - field.top, point % SPAN - field.left
                before = row - (heading == 1) + (heading == 3), column - (heading == 0) + (heading == 2)
                if count >= 3 or mask >> back & 1 or not field.has(*before):
                    continue
                cost = int(field.costs[heading][before]) + UNIT + (joint(mask, back, count) if mask else 0)
                if cost < FAR and (best is None or cost < best[0]):
                    best = (cost, point, heading)
        if best is None:
            return None
        cost, point, heading = best
        return cost, field.way(point, heading), target[point]


def bounds(board: Board, margin: int = _MARGIN) -> tuple[int, int, int, int]:
    """A box about everything on the board, with a margin."""
    points = [*board.covered, *board.pins, *board.wires]
    if not points:
        return 0, 0, 0, 0
    xs = [point % SPAN for point in points]
    ys = [point // SPAN for point in points]
    return min(xs) - margin, min(ys) - margin, max(xs) + margin, max(ys) + margin


def route_all(board: Board, nets: list[str], passes: int = 4) -> tuple[int, list[str]]:
    """Wire all nets from nothing, then take up and wire again, the costliest first, until nothing is gained.

    Returns:
        The cost of all wires, and the nets that could not be joined.
    """
    router = Router(board, bounds(board))
    for net in nets:
        board.erase(net)
    order = sorted(nets, key=lambda net: (_extent(board, net), net))
    cost: dict[str, int] = {}
    failed: dict[str, int] = {}
    for net in order:
        cost[net], failed[net] = router.connect(net)
    for _ in range(passes):
        gained = False
        for net in sorted(nets, key=lambda net: (-failed[net], -cost[net], net)):
            gained |= _again(board, router, net, cost, failed)
        if any(failed.values()):
            gained |= _make_way(board, router, cost, failed)
        if not gained:
            break
    return sum(cost.values()), [net for net in nets if failed[net]]


def _extent(board: Board, net: str) -> int:
    points = board.terminals.get(net, [])
    if not points:
        return 0
    xs = [point % SPAN for point in points]
    ys = [point // SPAN for point in points]
    return max(xs) - min(xs) + max(ys) - min(ys)


def _again(board: Board, router: Router, net: str, cost: dict[str, int], failed: dict[str, int]) -> bool:
    """Wire one net anew, from each of its pins in turn where they are few; whether it became cheaper."""
    old = board.saved(net)
    best, best_wires = (cost[net], failed[net]), old
    pins = list(board.terminals.get(net, ()))
    starts = range(len(pins)) if 2 < len(pins) <= 6 else range(1)
    for start in starts:
        board.erase(net)
        board.terminals[net] = [*pins[start:], *pins[:start]]
        tried = router.connect(net)
        if tried[0] < best[0]:
            best, best_wires = tried, board.saved(net)
    board.terminals[net] = pins
    board.restore(net, best_wires)
    gained = best[0] < cost[net]
    cost[net], failed[net] = best
    return gained


def _make_way(board: Board, router: Router, cost: dict[str, int], failed: dict[str, int]) -> bool:
    """Take all wires up, those that failed go first; kept if it is cheaper as a whole."""
    old = {net: board.saved(net) for net in cost}
    before = sum(cost.values())
    for net in cost:
        board.erase(net)
    new_cost: dict[str, int] = {}
    new_failed: dict[str, int] = {}
    for net in sorted(cost, key=lambda net: (-failed[net], _extent(board, net), net)):
        new_cost[net], new_failed[net] = router.connect(net)
    if sum(new_cost.values()) < before:
        cost.update(new_cost)
        failed.update(new_failed)
        return True
    for net, wires in old.items():
        board.restore(net, wires)
    return False


def _box(points: list[int]) -> tuple[int, int, int, int]:
    """The box about some points, in the board's own numbers: left, top, right, bottom."""
    xs = [point % SPAN for point in points]
    ys = [point // SPAN for point in points]
    return min(xs), min(ys), max(xs), max(ys)
