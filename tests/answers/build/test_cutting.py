"""The cutting of boards against trying everything."""

import random
from functools import cache

import pytest

from bedtide.building.sawing import cut
from bedtide.building.trade import Size
from helpers.builds import PIPES, built


def least_cost(pieces, stock, kerf):
    """Least cost of cutting by trying every way of filling every length, piece by piece."""
    sizes = sorted(pieces, reverse=True)

    def fillings(room, at=0):
        if at == len(sizes):
            yield ()
            return
        number = 0
        while number * (sizes[at] + kerf) <= room + kerf + 1e-9:
            for rest in fillings(room - number * (sizes[at] + kerf), at + 1):
                yield (number, *rest)
            number += 1

    ways = {(way, cost) for size, cost in stock.items() for way in fillings(size) if any(way)}

    @cache
    def cheapest(left):
        if not any(left):
            return 0.0
        first = next(at for at, number in enumerate(left) if number)
        return min(
            cost + cheapest(tuple(max(n - m, 0) for n, m in zip(left, way, strict=True)))
            for way, cost in ways
            if way[first]
        )

    return cheapest(tuple(pieces[size] for size in sizes))


def cut_of(pieces, prices, *, kerf):
    """Cuts from lengths with these prices."""
    stock = {size: Size(f"{size} m", price) for size, price in prices.items()}
    return cut(pieces, stock, kerf=kerf)


def check_whole(cuts, pieces, kerf):
    """Every piece is there, no more, and each length has room for its pieces and their cuts."""
    found = {}
    for each in cuts:
        cuts_mm = 1e3 * kerf * (len(each.pieces_mm) - 1)
        assert sum(each.pieces_mm) + cuts_mm <= each.stock_mm + 1e-6
        for piece in each.pieces_mm:
            found[piece] = found.get(piece, 0) + each.count
    assert found == {1e3 * size: count for size, count in pieces.items()}


@pytest.mark.parametrize("seed", range(60))
def test_as_cheap_as_trying_everything(seed):
    chance = random.Random(seed)
    stock = {}
    for size in chance.sample([1.8, 2.4, 3.0, 3.6, 4.2, 4.8, 5.4], chance.randint(1, 3)):
        stock[size] = round(size * chance.uniform(2, 5), 2) if seed % 2 else None
    kerf = chance.choice([0.0, 0.003, 0.01])
    lengths = [round(chance.uniform(0.3, max(stock)), 3) for _ in range(chance.randint(1, 3))]
    pieces = {length: chance.randint(1, 4) for length in lengths}
    cuts = cut_of(pieces, stock, kerf=kerf)
    check_whole(cuts, pieces, kerf)
    cost = {size: size if price is None else price for size, price in stock.items()}
    total = sum(each.count * cost[each.stock_mm / 1e3] for each in cuts)
    assert total == pytest.approx(least_cost(pieces, cost, kerf))


def test_pieces_that_fill_a_board_exactly_with_their_cuts():
    # 3 x 0.798 + 2 x 0.003 = 2.4 m; a hair more needs a second board.
    (one,) = cut_of({0.798: 3}, {2.4: None}, kerf=0.003)
    assert (one.stock, one.pieces_mm, one.count) == ("2.4 m", (798.0, 798.0, 798.0), 1)
    assert sum(each.count for each in cut_of({0.7981: 3}, {2.4: None}, kerf=0.003)) == 2


def test_of_equal_length_the_fewest():
    (one,) = cut_of({1.0: 4}, {2.0: None, 4.0: None}, kerf=0.0)
    assert (one.stock, one.count) == ("4.0 m", 1)


def test_what_has_no_price_is_left_out_where_others_reach():
    (one,) = cut_of({1.0: 2}, {2.4: 9.0, 2.0: None}, kerf=0.0)
    assert one.stock_mm == 2400
    (one,) = cut_of({3.0: 1}, {2.4: 9.0, 3.6: None}, kerf=0.0)
    assert one.stock_mm == 3600


def test_a_priced_length_just_long_enough_reaches():
    # Two of 2.4 m cost 18, with one of 1.2 m for the short piece 29.
    cuts = cut_of({2.4: 1, 1.2: 1}, {1.2: 20.0, 2.4: 9.0, 1.3: None}, kerf=0.003)
    assert [each.stock_mm for each in cuts] == [2400, 2400]


def test_many_beds_at_once():
    pieces = {2.486: 400, 0.63: 400}
    cuts = cut_of(pieces, {3.0: 9.0, 3.6: 11.0, 4.8: 16.0, 5.4: 18.0}, kerf=0.003)
    check_whole(cuts, pieces, 0.003)
    prices = {"3.0 m": 9, "3.6 m": 11, "4.8 m": 16, "5.4 m": 18}
    assert sum(each.count * prices[each.stock] for each in cuts) <= 4400


def test_nothing_to_cut():
    assert cut_of({}, {2.4: None}, kerf=0.003) == ()
    assert cut_of({1.0: 0}, {2.4: None}, kerf=0.003) == ()


def test_a_rim_may_come_out_lower_by_half_the_freeboard_at_the_most():
    # 400 mm deep over 5 mm of liner: two courses of 200 mm lack 5 mm.
    assert built(PIPES, changes={"box.freeboard": "12 mm"}).boards.courses == 2
    assert built(PIPES, changes={"box.freeboard": "8 mm"}).boards.courses == 3


def test_a_course_that_is_hardly_needed():
    # 250 mm and 5 under the liner of two courses of 200: 145 over; one would do for 195.
    low = built(PIPES, changes={"box.depth": "250 mm"}).boards
    assert (low.courses, low.rip_mm, low.low_mm) == (2, pytest.approx(145), 0)
    assert low.saves_mm == pytest.approx(195)
    one = built(PIPES, changes={"box.depth": "200 mm"}, own={"board.width": "600 mm"}).boards
    assert (one.courses, one.saves_mm) == (1, None)


def test_a_board_as_long_as_a_side_is_long_enough():
    # 2400 mm, twice 5 of liner and twice 38 of boards.
    cuts = built(PIPES, own={"board.lengths": ["2.486 m"]}).boards.cuts
    (sides,) = [each for each in cuts if max(each.pieces_mm) > 2000]
    assert (sides.pieces_mm, sides.count) == ((pytest.approx(2486),), 4)
    assert built(PIPES, own={"board.lengths": ["2.409 m"]}).boards is None
