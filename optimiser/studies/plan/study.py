"""What to buy for batches of several products: whole packs, lots, and the formulas too.

With formulas that may move, all products' questions stand side by side in one
whole-number programme whose packs they share. It is solved without steps first, which
proves what no plan costs less than; then, with those packs, for formulas in whole steps
that move least from where they stand.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.material import Lot
from optimiser.domain.plan import Plan
from optimiser.domain.rule import Goal, Row
from optimiser.errors import InputError, Problem, ProofError
from optimiser.explaining import clash_of
from optimiser.explaining.answering import NoFormula, best, questions
from optimiser.explaining.facts import TRACE
from optimiser.explaining.opinions import Solved
from optimiser.rules.joining import joined, placed
from optimiser.rules.steps import step_of
from optimiser.solving import (
    Infeasible,
    Optimum,
    SolverError,
    attempted,
    now,
    optimise,
    within,
)
from optimiser.studies.made import distance as apart_from
from optimiser.studies.made import made, of_amounts, told
from optimiser.studies.plan.blocks import (
    Block,
    block_of,
    heard,
    most_of,
    ruled,
    stands,
)
from optimiser.studies.plan.lots import Taken, shared_out
from optimiser.studies.plan.packs import (
    SLIVER,
    Bought,
    Shop,
    good_on,
    good_until,
    opened,
)
from optimiser.studies.plan.values import (
    Answered,
    OrderPaid,
    PlanFound,
    Purchase,
    Unfit,
)

__all__ = ["plan", "purchase"]

MOST_ROUNDS = 6  # of the second opinion
NEAREST = 3.0  # seconds to put a product into its steps
SPARED = (0.0, 0.25, 0.5)  # steps of each product that lots keep to spare
GAIN = 0.005  # money: less than a cent is no reason to move a formula
Formula = Mapping[str, float]


def plan(asked: Plan, seconds: float | None = None) -> PlanFound | Unfit:
    """Return what to buy for a plan, and with which formulas.

    Parameters
    ----------
    seconds : float, optional
        How long may be searched for formulas that move; without an end, what none
        costs less than is found to the last cent.

    Returns
    -------
    PlanFound or Unfit
        The latter where a product has no formula that keeps its rules.

    Raises
    ------
    InputError
        If a formula needs what the shelf has not and no pack is offered of.
    """
    answers = []
    for product in asked.products:
        scenario = replace(product.scenario, batch_kg=product.kg)
        found = best(questions(scenario, asked.catalogue), asked.catalogue, beside=True)
        if isinstance(found, NoFormula):
            return Unfit(product, clash_of(found, asked.catalogue))
        answers.append(found)
    return _Planning(asked, answers, seconds).found()


def purchase(asked: Plan, formulas: Sequence[Formula]) -> Purchase | None:
    """Return the cheapest packs for formulas that are given; None if none will do.

    Parameters
    ----------
    formulas : sequence of mappings of ingredient key to percent, one a product
    """
    shop = _shop(asked, [stands(formula) for formula in formulas])
    found = optimise(shop.programme)
    return None if isinstance(found, Infeasible) else _purchase(shop, found)


def _shop(
    asked: Plan, blocks: Sequence[Block], room: Mapping[str, float] | None = None
) -> Shop:
    """Return the question of what to buy for some blocks; ``room`` as in `opened`."""
    most: dict[str, float] = {}
    for product, block in zip(asked.products, blocks, strict=True):
        for key, percent in most_of(block.programme).items():
            most[key] = most.get(key, 0.0) + product.kg * percent / 100.0
    joint = joined([block.programme for block in blocks])
    return opened(joint, asked, most, room or {})


def _purchase(shop: Shop, found: Optimum) -> Purchase:
    bought = shop.bought(found.amounts)
    orders = []
    for each in shop.orders:
        own = [x for x in bought if x.of(each.supplier)]
        if own:
            free = each.free is not None and found.amounts[each.free] > 0.5
            freight = 0.0 if free else each.supplier.freight
            orders.append(OrderPaid(each.supplier, sum(x.goods for x in own), freight))
    spend = sum(x.paid for x in bought) + sum(x.freight for x in orders)
    return Purchase(bought, tuple(orders), spend, found.gap * max(1.0, abs(spend)))


class _Moved(Struct, frozen=True):
    """Formulas of all products, and what their packs cost.

    ``loose`` are the products that could not be put into their steps.
    """

    formulas: tuple[Formula, ...]
    spend: float
    loose: tuple[int, ...] = ()

    def beats(self, other: _Moved) -> bool:
        """Whether it is in steps where the other is not, or else costs less."""
        mine, theirs = (len(self.loose), self.spend), (len(other.loose), other.spend)
        return mine < theirs


class _Free(Struct, frozen=True):
    """Formulas in no steps, with their packs and what none inside the rules cost."""

    formulas: list[Formula]
    bought: tuple[Bought, ...]
    least: float


class _Planning:
    """A plan being answered; each product's own answer is there already."""

    def __init__(
        self, asked: Plan, answers: Sequence[Solved], seconds: float | None
    ) -> None:
        self.asked, self.answers = asked, answers
        self.end = math.inf if seconds is None else now() + seconds
        self.least: float | None = None
        self.catalogue = asked.catalogue
        self.own: tuple[Formula, ...] = tuple(each.amounts for each in answers)
        self.moving = [each.moves for each in asked.products]
        self.rules = [ruled(each) for each in answers]

    def found(self) -> PlanFound:
        lacking = _lacking(self.asked, self.own)
        before = None if lacking else purchase(self.asked, self.own)
        moved = self._moved(before) if any(self.moving) else None
        formulas, paid = self.own, before
        loose: tuple[int, ...] = ()
        if before is not None and not any(each.moves for each in self.asked.products):
            self.least = before.spend - before.off
        if moved is not None:
            after = purchase(self.asked, moved.formulas)
            gains = before is None or (
                after is not None and after.spend < before.spend - GAIN
            )
            if after is not None and gains:
                formulas, paid, loose = moved.formulas, after, moved.loose
        if paid is None:
            raise InputError(lacking)
        taken, left = shared_out(self.asked, formulas, paid.bought)
        products = self._products(formulas, paid, taken, loose)
        return PlanFound(
            plan=self.asked,
            products=products,
            purchase=paid,
            stands=None if before is None else before.spend,
            apart=None if before is None else self._apart(),
            least=self.least,
            taken=taken,
            left=left,
            told=tuple(
                told(
                    [each.made],
                    each.product.scenario,
                    self.catalogue,
                    lined=True if each.product.moves else None,
                )
                for each in products
            ),
        )

    # -- formulas that move --------------------------------------------------------

    def _moved(self, before: Purchase | None) -> _Moved | None:
        """Return formulas that can be bought for with less; None where none are found.

        Without steps first, which is proved. Lots that are used up to the last gram
        leave no room to put formulas into steps, which then takes more packs; so all is
        tried again with parts of a step of each product kept in the lots.
        """
        best: _Moved | None = None
        for spared in SPARED:
            for round_ in range(MOST_ROUNDS):
                free = self._free(before, spared)
                if free is None:
                    break
                if not spared:
                    known = free.least if self.least is None else self.least
                    self.least = min(free.least, known)
                if self._breaks(free.formulas, round_):
                    continue
                found = self._all_in_steps(free)
                if found is None:
                    break
                if not self._breaks(found.formulas, round_):
                    best = found if best is None or found.beats(best) else best
                    break
            if best is None or self.least is None:
                break
            if not best.loose and best.spend <= self.least + GAIN:
                break
        return best

    def _breaks(self, formulas: Sequence[Formula], round_: int) -> bool:
        """Whether some formula breaks a window by the second opinion.

        Then its tangent has joined the rules; what goes on breaking one for long stays
        as it stands.
        """
        broken = False
        for number, solved in enumerate(self.answers):
            rules = self.rules[number]
            if self.moving[number]:
                self.rules[number] = heard(solved, rules, formulas[number])
            if self.rules[number] is not rules:
                broken = True
                self.moving[number] = round_ < MOST_ROUNDS // 2
        return broken

    def _free(self, before: Purchase | None, spared: float) -> _Free | None:
        """Return the cheapest formulas in no steps, with room for them in the lots.

        Of those with the same packs, the nearest to the formulas as they stand.
        ``before`` are packs for those, to begin from.
        """
        every = range(len(self.own))
        blocks = [self._block(number) for number in every]
        room = self._spared(spared)
        shop = _shop(self.asked, blocks, room)
        near = None
        if before is not None:
            near = shop.start([block.start for block in blocks], before.bought)
        try:
            with within(max(0.0, self.end - now())):
                found = optimise(shop.programme, near=near)
        except (ProofError, SolverError):
            return None
        if isinstance(found, Infeasible):
            return None
        bought = shop.bought(found.amounts)
        nearest = self._nearest(blocks, bought, room)
        if nearest is None:
            nearest = [
                _formula(blocks[n], found.amounts[shop.places[n]]) for n in every
            ]
        least = found.best[0] - found.gap * max(1.0, abs(found.best[0]))
        return _Free(nearest, bought, least)

    def _all_in_steps(self, free: _Free) -> _Moved | None:
        """Return formulas in the steps that their scenarios ask for, one by one."""
        formulas, bought, loose = list(free.formulas), free.bought, []
        for number, solved in enumerate(self.answers):
            stepped = solved.steps is not None and solved.steps.optimum is not None
            if self.moving[number] and stepped:
                found = self._in_steps(number, formulas, bought)
                if found is None:
                    loose.append(number)
                else:
                    formulas[number], bought = found
        paid = purchase(self.asked, formulas)
        if paid is None:
            return None
        return _Moved(tuple(formulas), paid.spend, tuple(loose))

    def _spared(self, steps: float) -> dict[str, float]:
        """Return the room in the lots of each ingredient, kg: for steps to be kept."""
        spared = dict.fromkeys(self.catalogue.ingredients, 0.0)
        last = self.asked.days[-1]
        for product, rules, moving in zip(
            self.asked.products, self.rules, self.moving, strict=True
        ):
            asked = product.scenario.steps
            if asked is None or not moving:
                continue
            for key in rules.ingredients:
                if key not in rules.fixed():
                    step = step_of(asked, key, self.catalogue.ingredients[key].category)
                    spared[key] += product.kg * steps * step / 100.0
        stock = self.catalogue.stock
        return {key: -min(kg, good_on(stock, key, last)) for key, kg in spared.items()}

    def _in_steps(
        self, number: int, formulas: Sequence[Formula], bought: tuple[Bought, ...]
    ) -> tuple[Formula, tuple[Bought, ...]] | None:
        """Return a product's formula in whole steps, the others as given, and packs.

        Of the packs given where they will do; else with the cheapest that do.
        """
        halved = dict.fromkeys(self.catalogue.ingredients, SLIVER / 2)
        ways = []
        for rest in (False, True):
            blocks = [stands(formula) for formula in formulas]
            blocks[number] = self._block(number, rest, formulas[number])
            found = self._nearest(blocks, bought, halved)
            if found is not None:
                return found[number], bought
            ways.append(blocks)
        for blocks in ways:
            shop = _shop(self.asked, blocks, halved)
            with within(NEAREST):
                paid = attempted(shop.programme)
            if paid is not None:
                amounts = paid.amounts[shop.places[number]]
                return _formula(blocks[number], amounts), shop.bought(paid.amounts)
        return None

    def _block(
        self, number: int, rest: bool | None = None, near: Formula | None = None
    ) -> Block:
        if not self.moving[number]:
            return stands(self.own[number])
        product, solved = self.asked.products[number], self.answers[number]
        return block_of(
            product, solved, self.rules[number], self.catalogue, near, rest=rest
        )

    def _nearest(
        self,
        blocks: Sequence[Block],
        bought: Sequence[Bought],
        room: Mapping[str, float],
    ) -> list[Formula] | None:
        """Return the formulas for some packs that move least, by kg; None if none."""
        shop = _shop(self.asked, blocks, room)
        counts = {each.pack: float(each.count) for each in bought}
        kept = {at: counts.get(pack, 0.0) for pack, at in shop.packs}
        columns = tuple(
            replace(column, lower=kept[at], upper=kept[at], whole=False)
            if at in kept
            else column
            for at, column in enumerate(shop.programme.columns)
        )
        pairs: list[tuple[int, float]] = []
        every = list(zip(self.asked.products, blocks, shop.places, strict=True))
        for product, block, place in every:
            row = placed(block.moved, place)
            each = zip(row.columns.tolist(), row.coefficients.tolist(), strict=True)
            pairs += [(at, product.kg * points / 100.0) for at, points in each]
        goal = Goal("moved", "kg", Row.of(pairs))
        with within(NEAREST):
            found = attempted(replace(shop.programme, columns=columns, goals=(goal,)))
        if found is None:
            return None
        return [_formula(block, found.amounts[place]) for _, block, place in every]

    # -- what it comes to ------------------------------------------------------------

    def _apart(self) -> float | None:
        """Return the money with each product bought for by itself, as it stands.

        The shelf is emptied in the order of their first days; what is left of packs
        bought for one is not used for another.
        """
        order = sorted(
            range(len(self.own)),
            key=lambda n: min(batch.day for batch in self.asked.products[n].batches),
        )
        stock, spend = self.catalogue.stock, 0.0
        for number in order:
            alone = replace(
                self.asked,
                products=(self.asked.products[number],),
                catalogue=replace(self.catalogue, stock=stock),
            )
            own = (self.own[number],)
            paid = purchase(alone, own)
            if paid is None:
                return None
            spend += paid.spend
            taken, _ = shared_out(alone, own, paid.bought)
            stock = _without(stock, taken)
        return spend

    def _products(
        self,
        formulas: Sequence[Formula],
        paid: Purchase,
        taken: Sequence[Taken],
        loose: Sequence[int],
    ) -> tuple[Answered, ...]:
        per_kg = _paid_per_kg(paid)
        found = []
        for number, (product, solved) in enumerate(
            zip(self.asked.products, self.answers, strict=True)
        ):
            title = product.scenario.title
            own, formula = self.own[number], formulas[number]
            as_it_stands = made(title, solved, self.catalogue)
            other = as_it_stands
            if formula is not own:
                other = of_amounts(
                    title,
                    formula,
                    solved.scenario,
                    self.catalogue,
                    opinion=solved.opinion,
                )
            mine = [each for each in taken if each.product == number]
            bought = [each for each in mine if each.lot is None]
            shelf = [each for each in mine if each.lot is not None]
            worth = [
                (self.catalogue.price_per_kg(each.ingredient), each.kg)
                for each in shelf
            ]
            found.append(
                Answered(
                    product=product,
                    stands=as_it_stands,
                    made=other,
                    moved=apart_from(own, formula),
                    in_steps=number not in loose,
                    bought=sum(per_kg[x.ingredient] * x.kg for x in bought),
                    bought_kg=sum(x.kg for x in bought),
                    shelf=None
                    if any(price is None for price, _ in worth)
                    else sum((price or 0.0) * kg for price, kg in worth),
                    shelf_kg=sum(x.kg for x in shelf),
                )
            )
        return tuple(found)


def _formula(block: Block, amounts: Floats) -> Formula:
    """Return the formula of a block, percent by ingredient key."""
    return {
        key: round(float(x), 8)
        for key, x in zip(block.programme.ingredients, amounts, strict=False)
        if x > TRACE
    }


def _without(stock: Sequence[Lot], taken: Sequence[Taken]) -> tuple[Lot, ...]:
    """Return the lots after something is taken from them."""
    gone: dict[tuple[str, str], float] = {}
    for each in taken:
        if each.lot is not None:
            key = (each.ingredient, each.lot)
            gone[key] = gone.get(key, 0.0) + each.kg
    left = []
    for lot in stock:
        kg = min(lot.amount, gone.get((lot.ingredient, lot.lot), 0.0))
        gone[lot.ingredient, lot.lot] = gone.get((lot.ingredient, lot.lot), 0.0) - kg
        if lot.amount - kg > SLIVER:
            left.append(replace(lot, amount=lot.amount - kg))
    return tuple(left)


def _paid_per_kg(paid: Purchase) -> dict[str, float]:
    """Return money per kg of each ingredient bought, with its share of all freight.

    An order's freight is shared by what its packs cost.
    """
    money: dict[str, float] = {}
    kg: dict[str, float] = {}
    for each in paid.bought:
        own = each.paid
        for order in paid.orders:
            if each.of(order.supplier) and order.goods > 0.0:
                own += order.freight * each.goods / order.goods
        key = each.pack.ingredient
        money[key] = money.get(key, 0.0) + own
        kg[key] = kg.get(key, 0.0) + each.kg
    return {key: money[key] / kg[key] for key in money}


def _lacking(asked: Plan, formulas: Sequence[Formula]) -> list[Problem]:
    """Return what some formulas need and neither shelf nor packs have."""
    problems = []
    for key in dict.fromkeys(key for formula in formulas for key in formula):
        packs = asked.catalogue.prices.get(key, ())
        for day in asked.days:
            need = sum(
                product.kg_from(day) * formula.get(key, 0.0) / 100.0
                for product, formula in zip(asked.products, formulas, strict=True)
            )
            lots = good_on(asked.catalogue.stock, key, day)
            untils = (good_until(pack, asked.day) for pack in packs)
            if need <= lots + SLIVER or any(u is None or u >= day for u in untils):
                continue
            what = "no pack of it keeps so long" if packs else "it has no pack"
            wrong = (
                f"needs {need * 1000:.0f} g of {asked.catalogue.ingredients[key].name}"
                f" from {day} on; {lots * 1000:.0f} g on the shelf are good then, and"
                f" {what} in prices.csv"
            )
            fix = "add a pack to the workshop's prices.csv, or make less"
            problems.append(Problem(wrong, asked.file, fix=fix))
            break
    return problems
