"""Which part of a melt is solid once it has come to rest at a temperature.

The liquid is an ideal mixture. Most substances set each as its own crystal; two
groups (saturated lauric triglycerides, and those with one double bond) set as a mixed
crystal each. Many blends and temperatures are solved at once.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Indices, Mask
from optimiser.science.algebra import need_room

__all__ = ["Settled", "Substances", "settle"]

STAYS_LIQUID, OWN, MIXED, MIXED_TOO = 0, 1, 2, 3
LEAST_LIQUID = 1e-10  # of all moles; a blend without liquid keeps this trace
ROUNDS = 40
HALVINGS = 48
SETTLED = 1e-11


class Substances(Struct, frozen=True, eq=False):
    """Substances of a melt, one a column.

    Attributes
    ----------
    mass : float array, shape (substances,)
        Molar mass, [g/mol].
    group : int array, shape (substances,)
        STAYS_LIQUID (never sets), OWN (its own crystal), MIXED or MIXED_TOO.
    counted : float array, shape (substances,) or (measures, substances)
        How much a gram of its crystals counts for: 1 for solids, 0 for what is not
        counted; more than one measure at once have a row each.
    """

    mass: Floats
    group: Indices
    counted: Floats


class Settled(Struct, frozen=True, eq=False):
    """What came to rest.

    Attributes
    ----------
    solids : float array, shape (rows,), or (measures, rows)
        Counted crystals, in grams where moles were given as they are.
    slopes : float array, shape (rows, substances), or (measures, rows, substances)
        Change of ``solids`` per mole of each substance more.
    miss : float
        The worst imbalance left, as a part of all moles.
    """

    solids: Floats
    slopes: Floats
    miss: float


def settle(melt: Substances, moles: Floats, solubility: Floats) -> Settled:
    """Return the solids of blends that have come to rest.

    Parameters
    ----------
    moles : float array, shape (rows, substances)
        Moles of each substance; every row holds some.
    solubility : float array, shape (rows, substances)
        Mole fraction at which each substance, alone in the liquid, begins to set.

    Notes
    -----
    Gibbs energy of ideal phases with fixed ratios between liquid and crystal is the
    convex function ``Q = sum(amounts) - sum(z ln E)`` of the amounts of liquid and
    mixed crystals, where E is what each substance finds room in (Michelsen, Fluid
    Phase Equilibria 98:1, 1994). Crystals of their own drop out: a substance
    dissolves ``min(z, s L)``. Newton steps from a safe start, kept inside bounds,
    halved until Q falls; Q has kinks, so a row that has not come to rest by then is
    halved in between instead, which always ends.
    """
    total = moles.sum(axis=1, keepdims=True)
    state = _State(melt, moles / total, np.maximum(solubility, 1e-300))
    amounts = state.start()
    slope, bend, free = state.derivatives(amounts)
    rows = _bent(slope, free)
    if rows.size:
        amounts[rows] = state.over(rows).lowered(amounts[rows])
        slope, bend, free = state.derivatives(amounts)
    solids, slopes = state.solids(amounts, bend, free)
    miss = float(np.abs(np.where(free, slope * amounts, 0.0)).max())
    return Settled(solids * total[:, 0], slopes, miss)


def _bent(slope: Floats, free: Mask) -> Indices:
    """Return the rows in which Q has not come to rest."""
    level = np.abs(np.where(free, slope, 0.0)).max(axis=1) < SETTLED
    return np.flatnonzero(~level)


def _newton(slope: Floats, bend: Floats, free: Mask) -> Floats:
    """Return the Newton step of the free amounts, in the shape of ``slope``.

    That is (rows, amounts), or (measures, rows, amounts).
    """
    both = free[:, :, None] & free[:, None, :]
    matrix = np.where(both, bend, 0.0)
    ridge = 1e-13 + 1e-13 * np.abs(matrix.diagonal(axis1=1, axis2=2))
    matrix += np.eye(free.shape[1]) * np.where(free, ridge, 1.0)[:, :, None]
    right = np.where(free, -slope, 0.0)
    need_room()
    return np.linalg.solve(matrix, right[..., None])[..., 0]


class _Mixed(Struct, frozen=True, eq=False):
    """A mixed crystal that there is stuff for.

    ``column`` is its own among the amounts, ``at`` are those of its substances, ``z``
    their parts and ``ratio`` how much more of each there is room for than in the melt.
    """

    column: int
    at: Indices
    z: Floats
    ratio: Floats

    def beside(self, liquid: Floats) -> Floats:
        """Return nearly how much of it sets beside so much liquid, by Newton steps."""
        amount = np.zeros(liquid.size)
        for _ in range(2):
            room = liquid[:, None] + amount[:, None] * self.ratio
            share = self.z / room * self.ratio
            bend = (share / room * self.ratio).sum(axis=1)
            more = (share.sum(axis=1) - 1.0) / np.maximum(bend, 1e-300)
            amount = np.maximum(amount + more, 0.0)
        return amount

    def room(self, amounts: Floats) -> Floats:
        """Return E of its substances."""
        room: Floats = amounts[:, :1] + amounts[:, self.column, None] * self.ratio
        return room


class _State:
    """One set of blends, in parts of their moles; amounts are liquid and crystals."""

    def __init__(self, melt: Substances, parts: Floats, solubility: Floats) -> None:
        self.melt, self.z, self.s = melt, parts, solubility
        self.own = melt.group == OWN
        self.inert = melt.group == STAYS_LIQUID
        self.z_own, self.s_own = parts[:, self.own], solubility[:, self.own]
        self.z_inert = parts[:, self.inert].sum(axis=1)
        groups = (np.flatnonzero(melt.group == g) for g in (MIXED, MIXED_TOO))
        self.mixed = [
            _Mixed(column, at, parts[:, at], 1.0 / solubility[:, at])
            for column, at in enumerate((g for g in groups if g.size), start=1)
        ]
        self.least = np.array([LEAST_LIQUID, *(0.0 for _ in self.mixed)])

    def over(self, rows: Indices) -> _State:
        """Return some of the blends."""
        return _State(self.melt, self.z[rows], self.s[rows])

    def start(self) -> Floats:
        """Return a first guess: the answer itself where no mixed crystal sets."""
        amounts = np.zeros((self.z.shape[0], self.least.size))
        stays = self.z_inert + sum(mixed.z.sum(axis=1) for mixed in self.mixed)
        amounts[:, 0] = self._beside(stays)
        if self.mixed:
            stays = self.z_inert.copy()
            for mixed in self.mixed:
                amounts[:, mixed.column] = mixed.beside(amounts[:, 0])
                stays += amounts[:, 0] * (mixed.z / mixed.room(amounts)).sum(axis=1)
            amounts[:, 0] = self._beside(stays)
        return amounts

    def _beside(self, stays: Floats) -> Floats:
        """Return the liquid where so much of it stays, and own crystals alone set.

        A substance sets below the liquid that its part fills, ``z / s``; in the order
        of those it is counted which set before all that is left finds room. Then the
        liquid is what has not set, over what room the ones that have leave.
        """
        order = np.argsort(-self.z_own / self.s_own, axis=1)
        z = np.take_along_axis(self.z_own, order, axis=1)
        s = np.take_along_axis(self.s_own, order, axis=1)
        none = np.zeros((z.shape[0], 1))
        left = np.hstack([np.cumsum(z[:, ::-1], axis=1)[:, ::-1], none])
        left += stays[:, None]
        room = 1.0 - np.hstack([none, np.cumsum(s, axis=1)])
        sets = (room[:, :-1] * z > left[:, :-1] * s).sum(axis=1)[:, None]
        liquid = np.take_along_axis(left, sets, 1) / np.take_along_axis(room, sets, 1)
        return np.maximum(liquid[:, 0], LEAST_LIQUID)

    def value(self, amounts: Floats) -> Floats:
        """Return Q, one a row."""
        liquid = amounts[:, :1]
        enough = np.maximum(liquid, self.z_own / self.s_own)
        crystals = np.maximum(self.z_own - self.s_own * liquid, 0.0)
        q = amounts.sum(axis=1) - self.z_inert * np.log(liquid[:, 0])
        q += (crystals - self.z_own * np.log(enough)).sum(axis=1)
        for mixed in self.mixed:
            q -= (mixed.z * np.log(mixed.room(amounts))).sum(axis=1)
        total: Floats = q
        return total

    def derivatives(self, amounts: Floats) -> tuple[Floats, Floats, Mask]:
        """Return the slope (rows, amounts) and the bend of Q, an axis more.

        And which amounts are free to move: those above their least, or that would rise.
        """
        liquid = amounts[:, 0]
        dilute = self.z_own / liquid[:, None]
        clear = dilute < self.s_own
        slope = np.ones_like(amounts)
        bend = np.zeros((liquid.size, self.least.size, self.least.size))
        slope[:, 0] -= np.where(clear, dilute, self.s_own).sum(axis=1)
        slope[:, 0] -= self.z_inert / liquid
        clear_moles = np.where(clear, self.z_own, 0.0).sum(axis=1) + self.z_inert
        bend[:, 0, 0] = clear_moles / liquid**2
        for mixed in self.mixed:
            at, ratio = mixed.column, mixed.ratio
            room = mixed.room(amounts)
            share = mixed.z / room
            slope[:, 0] -= share.sum(axis=1)
            slope[:, at] -= (share * ratio).sum(axis=1)
            squared = share / room
            bend[:, 0, 0] += squared.sum(axis=1)
            bend[:, 0, at] = bend[:, at, 0] = (squared * ratio).sum(axis=1)
            bend[:, at, at] = (squared * ratio**2).sum(axis=1)
        return slope, bend, (amounts > self.least) | (slope < 0.0)

    def lowered(self, amounts: Floats) -> Floats:
        """Return the amounts where Q is least, from some."""
        value = self.value(amounts)
        slope, bend, free = self.derivatives(amounts)
        for _ in range(ROUNDS):
            step = _newton(slope, bend, free)
            amounts, value = self.shorter(amounts, value, step, slope)
            slope, bend, free = self.derivatives(amounts)
            if not _bent(slope, free).size:
                return amounts
        return self.bisected(amounts)

    def shorter(
        self, amounts: Floats, before: Floats, step: Floats, slope: Floats
    ) -> tuple[Floats, Floats]:
        """Return amounts after a step, halved in each row until Q falls enough.

        ``before`` is Q at the amounts; it is returned as it is after the step.
        """
        length = np.ones((amounts.shape[0], 1))
        low, high = np.tile(self.least, (amounts.shape[0], 1)), np.ones_like(amounts)
        low[:, 0] = np.maximum(low[:, 0], amounts[:, 0] / 8.0)
        high[:, 0] = np.minimum(high[:, 0], amounts[:, 0] * 8.0)
        for _ in range(50):
            new = np.minimum(np.maximum(amounts + length * step, low), high)
            fall = 1e-4 * (slope * (new - amounts)).sum(axis=1)
            after = self.value(new)
            good = after <= before + fall + 1e-15
            if good.all():
                break
            length[~good] *= 0.5
        return new, after

    def bisected(self, amounts: Floats) -> Floats:
        """Return amounts by halving, for rows whose slope is not yet level."""
        slope, _, free = self.derivatives(amounts)
        rows = _bent(slope, free)
        part = self.over(rows)
        low, high = np.full(rows.size, np.log(LEAST_LIQUID)), np.zeros(rows.size)
        for _ in range(HALVINGS):
            middle = (low + high) / 2.0
            found = part.crystals(np.exp(middle))
            falls = part.derivatives(found)[0][:, 0] < 0.0
            low, high = np.where(falls, middle, low), np.where(falls, high, middle)
        settled = amounts.copy()
        settled[rows] = part.crystals(np.exp((low + high) / 2.0))
        return settled

    def crystals(self, liquid: Floats) -> Floats:
        """Return the amounts that go with so much liquid, by halving."""
        amounts = np.zeros((liquid.size, self.least.size))
        amounts[:, 0] = liquid
        for mixed in self.mixed:
            column = mixed.column
            low, high = np.zeros(liquid.size), mixed.z.sum(axis=1)
            for _ in range(HALVINGS):
                amounts[:, column] = (low + high) / 2.0
                share = mixed.z / mixed.room(amounts) * mixed.ratio
                grows = share.sum(axis=1) > 1.0
                low = np.where(grows, amounts[:, column], low)
                high = np.where(grows, high, amounts[:, column])
            amounts[:, column] = np.where(low == 0.0, 0.0, (low + high) / 2.0)
        return amounts

    def solids(
        self, amounts: Floats, bend: Floats, free: Mask
    ) -> tuple[Floats, Floats]:
        """Return counted crystals in grams a mole, and their slopes a substance."""
        liquid = amounts[:, :1]
        dissolved = self.z.copy()  # inert stays as it is
        direct = np.ones_like(self.z)
        force = np.zeros((*self.z.shape, self.least.size))  # change of the slope of Q
        pull = np.zeros_like(force)  # change of what is dissolved
        force[:, self.inert, 0] = -1.0 / liquid
        clear = self.z_own / liquid < self.s_own
        dissolved[:, self.own] = np.where(clear, self.z_own, self.s_own * liquid)
        direct[:, self.own] = clear
        force[:, self.own, 0] = np.where(clear, -1.0 / liquid, 0.0)
        pull[:, self.own, 0] = np.where(clear, 0.0, self.s_own)
        for mixed in self.mixed:
            at, z, ratio, column = mixed.at, mixed.z, mixed.ratio, mixed.column
            room = mixed.room(amounts)
            dissolved[:, at] = z * liquid / room
            direct[:, at] = liquid / room
            force[:, at, 0] = -1.0 / room
            force[:, at, column] = -ratio / room
            pull[:, at, 0] = z * (room - liquid) / room**2
            pull[:, at, column] = -z * liquid * ratio / room**2
        weight = self.melt.mass * np.atleast_2d(self.melt.counted)
        moved = _newton(-np.einsum("mi,rip->mrp", weight, pull), bend, free)
        slopes = np.einsum("rip,mrp->mri", force, moved)
        slopes += weight[:, None, :] * (1.0 - direct)
        solids = weight @ (self.z - dissolved).T
        if self.melt.counted.ndim == 1:
            return solids[0], slopes[0]
        return solids, slopes
