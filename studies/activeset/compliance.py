"""How the turns of a strip give way to forces between them, without factorising anything.

A *point* is a pair of places, one on the strip at node k, one on the turn inside it (or on the
base), that may press on each other. It has three components: along the normal of the bevel (from
the inner to the outer turn), up the slope of the bevel, and along the strip. The pair of forces
acts at one place in space, so the elements it loads are exactly those between the two ends of the
point: one turn of the strip. The compliance between two points therefore needs only the running sum
of element flexibilities at the ends of the stretch both load,

    G_ij = w_i . [P(min(k_i, k_j)) - P(max(l_i, l_j))] w_j,

with w the wrenches of unit forces and l the place of the inner end: two products of rank six build
a block of it. Points more than a turn apart do not know of each other, so systems are solved turn
by turn. No wood and no rings here.
"""

from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Protocol

import numpy as np

from fitsim.arrays import Array, IntArray

__all__ = [
    "ChainCompliance",
    "ChainFactors",
    "Compliance",
    "DenseCompliance",
    "Mix",
    "Points",
    "chain_compliance",
]


@dataclass(frozen=True, eq=False)
class Points:
    """Where forces pass between two places of a chain; p points.

    Attributes
    ----------
    wrench : numpy.ndarray
        Wrench about the origin on the outer place of a unit force along normal, slope and strip,
        shape (p, 3, 6). [-, mm]
    outer : numpy.ndarray
        Node of the outer place, shape (p,).
    inner : numpy.ndarray
        Node before the inner place, shape (p,); -1 for the base, which does not move.
    share : numpy.ndarray
        Place of the inner end between that node and the next, 0 to 1, shape (p,). [-]

    """

    wrench: Array
    outer: IntArray
    inner: IntArray
    share: Array


@dataclass(frozen=True, eq=False)
class Mix:
    """Unknowns of a linear system: point, components measured, components forced.

    ``point`` (u,), ``rows`` (u, 3) weigh the components of motion, ``columns`` (u, 3) those of the
    force.
    """

    point: IntArray
    rows: Array
    columns: Array

    def part(self, index: IntArray) -> "Mix":
        """The unknowns picked by an index."""
        return Mix(self.point[index], self.rows[index], self.columns[index])


class Compliance(Protocol):
    """What the contact sweep needs to know of an elastic body."""

    def apply(self, force_N: Array) -> Array:
        """Motion (p, 3) at all points under forces (p, 3). [mm]"""
        ...

    def own(self) -> Array:
        """How far each point slides under a unit friction force on itself, (p,). [mm/N]"""
        ...

    def solve(self, mix: Mix, give: Array, motion_mm: Array) -> Array:
        """Forces along mixes whose motion plus ``give`` times force is as wanted. [N]

        Wanted motions and forces are (u,), or (u, several) for several right-hand sides at once.
        """
        ...


@dataclass(frozen=True, eq=False)
class DenseCompliance:
    """Compliance given as a full array, shape (p, 3, p, 3). [mm/N]"""

    matrix: Array

    def apply(self, force_N: Array) -> Array:
        """See `Compliance.apply`."""
        return np.asarray(np.einsum("iajb,jb->ia", self.matrix, force_N))

    def own(self) -> Array:
        """See `Compliance.own`: the mean of slope and strip."""
        each = np.einsum("iaia->ia", self.matrix)
        return np.asarray(0.5 * (each[:, 1] + each[:, 2]))

    def solve(self, mix: Mix, give: Array, motion_mm: Array) -> Array:
        """See `Compliance.solve`."""
        part = self.matrix[mix.point][:, :, mix.point]
        G = np.einsum("ra,racb,cb->rc", mix.rows, part, mix.columns)
        return np.asarray(np.linalg.solve(G + np.diag(give), motion_mm))


@dataclass(frozen=True, eq=False)
class _Unknowns:
    """What a block of the compliance needs of its unknowns, ordered from root to free end.

    Where the row's point lies nearer the root than the column's their compliance is
    ``row_near . column_far``, else ``row_far . column_near``, each (u, 12): wrench times running
    flexibility at the outer end, less the same at the inner end. ``w``, ``v`` (u, 6) are wrenches
    of the motions measured and of the forces; ``k`` (u,) outer and ``l`` inner ends.
    """

    row_near: Array
    row_far: Array
    column_near: Array
    column_far: Array
    w: Array
    v: Array
    k: Array
    l: Array  # noqa: E741 (the letter of the formula)

    def part(self, index: IntArray) -> "_Unknowns":
        """The unknowns picked by an index."""
        return _Unknowns(*(getattr(self, f.name)[index] for f in fields(self)))


@dataclass(frozen=True, eq=False)
class ChainFactors:
    """A factorised system of unknowns on a chain: blocks of neighbours, solved one after another.

    ``groups`` index the unknowns of each stretch; ``lu`` and ``pivots`` are the factors of its
    block less what the stretch before makes of it, ``back`` its coupling to the stretch before,
    from the second on, ``links`` what it hands on to the next.
    """

    groups: list[IntArray]
    lu: list[Array]
    pivots: list[IntArray]
    back: list[Array]
    links: list[Array]

    def solve(self, motion_mm: Array) -> Array:
        """Forces for wanted motions, both (u,) or (u, several). [N]"""
        from scipy.linalg.lapack import dgetrs

        right: list[Array] = []
        for b, group in enumerate(self.groups):
            known = motion_mm[group]
            if b:
                known = known - self.back[b - 1] @ right[b - 1]
            right.append(dgetrs(self.lu[b], self.pivots[b], known)[0])
        answer = np.empty_like(motion_mm)
        for b in range(len(self.groups) - 1, -1, -1):
            if b + 1 < len(self.groups):
                right[b] = right[b] - self.links[b] @ right[b + 1]
            answer[self.groups[b]] = right[b]
        return answer


@dataclass(frozen=True, eq=False)
class ChainCompliance:
    """Compliance of points on a chain built in at node 0.

    ``flexibility`` (e, 6, 6) are the elements' about the origin; ``at_outer`` and ``at_inner``
    (p, 3, 6) the twists unit forces at a point would give its two ends if nothing were taken off
    at the other; ``cuts`` part the nodes into stretches of which only neighbours know of each
    other.
    """

    points: Points
    flexibility: Array
    at_outer: Array
    at_inner: Array
    cuts: IntArray

    def _unknowns(self, mix: Mix) -> _Unknowns:
        p, i = self.points, mix.point
        each = np.concatenate([self.at_outer[i], p.wrench[i], self.at_inner[i]], axis=2)
        r, c = (mix.rows[:, None, :] @ each)[:, 0], (mix.columns[:, None, :] @ each)[:, 0]
        return _Unknowns(
            row_near=np.hstack([r[:, :6], -r[:, 6:12]]),
            column_far=c[:, 6:],
            row_far=np.hstack([r[:, 6:12], -r[:, 12:]]),
            column_near=c[:, :12],
            w=r[:, 6:12],
            v=c[:, 6:12],
            k=p.outer[i].astype(np.float64),
            l=np.where(p.inner[i] >= 0, p.inner[i] + p.share[i], -1.0),
        )

    def block(self, rows: IntArray, row_mix: Array, columns: IntArray, column_mix: Array) -> Array:
        """Motion along mixes (r, 3) at points (r,) over forces along mixes (c, 3), (r, c)."""
        r = self._unknowns(Mix(rows, row_mix, row_mix))
        c = self._unknowns(Mix(columns, column_mix, column_mix))
        k_r, k_c, l_r, l_c = r.k[:, None], c.k[None, :], r.l[:, None], c.l[None, :]
        # Column_near holds (outer, plain), column_far (plain, inner), the rows likewise.
        G = np.where(k_r <= k_c, r.row_near[:, :6] @ c.v.T, r.w @ c.column_near[:, :6].T)
        G += np.where(l_r >= l_c, r.row_far[:, 6:] @ c.v.T, -r.w @ c.column_far[:, 6:].T)
        G *= np.maximum(l_r, l_c) < np.minimum(k_r, k_c)
        i, j = np.nonzero(np.floor(r.l)[:, None] == np.floor(c.l)[None, :])
        G[i, j] -= self._shared(r, c, i, j)
        return np.asarray(G)

    def _shared(self, r: _Unknowns, c: _Unknowns, i: IntArray, j: IntArray) -> Array:
        """What pairs with their inner ends in one element have too much in `block`, (pairs,).

        The load of an inner end is handed to the two nodes of its element, not cut there.
        """
        e = np.floor(r.l).astype(np.int64)
        near = (r.w[:, None, :] @ self.flexibility[np.maximum(e, 0)])[:, 0]
        a, b = (r.l - e)[i], c.l[j] - e[i]
        part = np.minimum(a, b) * (1 - np.maximum(a, b))
        return np.asarray(part * np.einsum("xi,xi->x", near[i], c.v[j]))

    def factorise(self, mix: Mix, give: Array) -> ChainFactors:
        """Factorise the system of unknowns, block by block: a stretch knows only its neighbours."""
        from scipy.linalg.lapack import dgetrf, dgetrs

        every = self._unknowns(mix)
        order = np.lexsort((every.l, every.k))
        every, give = every.part(order), give[order]
        if np.any(np.diff(every.l) < 0):
            return self._factorise_plain(mix, give[np.argsort(order)])
        ends = _merged(np.searchsorted(every.k, self.cuts, side="left"), len(order))
        own, back, ahead = self._assembled(every, ends)
        factors = ChainFactors([order[a:z] for a, z in pairwise(ends)], [], [], back, [])
        for b, D in enumerate(own):
            # Blocks are transposed so that LAPACK finds its columns in one piece.
            D.reshape(-1)[:: len(D) + 1] += give[ends[b] : ends[b + 1]]
            D = D.T
            if b:
                D = D - back[b - 1] @ factors.links[b - 1]
            factor, pivot, fault = dgetrf(D, overwrite_a=True)
            if fault:
                raise np.linalg.LinAlgError("contact: singular system")
            factors.lu.append(factor)
            factors.pivots.append(pivot)
            if b + 1 < len(own):
                factors.links.append(dgetrs(factor, pivot, ahead[b], overwrite_b=True)[0])
        return factors

    def _assembled(self, u: _Unknowns, ends: IntArray) -> tuple[list[Array], list[Array], list[Array]]:
        """Blocks of ordered unknowns: transposed on the diagonal, of the stretch before, of the next."""
        pairs = _near_pairs(np.floor(u.l))
        extra = self._shared(u, u, *pairs)
        own: list[Array] = []
        back: list[Array] = []
        ahead: list[Array] = []
        last = slice(0, 0)
        for a, z in pairwise(ends):
            here = slice(a, z)
            # Where the column comes before the row (j <= i) the row is the far one.
            D = u.column_far[here] @ u.row_near[here].T
            np.copyto(D, u.column_near[here] @ u.row_far[here].T, where=np.tri(z - a, dtype=bool).T)
            if u.l[z - 1] >= u.k[a]:
                meets = u.l[None, here] < u.k[here, None]
                D[~(meets & meets.T)] = 0.0
            own.append(D)
            if last.stop:
                meets = u.l[None, here] < u.k[last, None]
                back.append(np.where(meets, u.column_near[last] @ u.row_far[here].T, 0.0).T)
                ahead.append(np.where(meets, u.row_near[last] @ u.column_far[here].T, 0.0))
            last = here
        _take_off(own, back, ahead, ends, pairs, extra)
        return own, back, ahead

    def _factorise_plain(self, mix: Mix, give: Array) -> ChainFactors:
        """The same without order: one block."""
        from scipy.linalg.lapack import dgetrf

        G = self.block(mix.point, mix.rows, mix.point, mix.columns)
        G.reshape(-1)[:: len(G) + 1] += give
        factor, pivot, _ = dgetrf(G)
        return ChainFactors([np.arange(len(give))], [factor], [pivot], [], [])

    def solve(self, mix: Mix, give: Array, motion_mm: Array) -> Array:
        """See `Compliance.solve`."""
        return self.factorise(mix, give).solve(motion_mm)

    def own(self) -> Array:
        """See `Compliance.own`: the mean of slope and strip."""
        w = self.points.wrench[:, 1:]
        each = np.einsum("pai,pai->p", w, self.at_outer[:, 1:] - self.at_inner[:, 1:])
        return np.asarray(0.5 * np.maximum(each, 0.0))

    def carried(self, force_N: Array) -> Array:
        """Wrench (e, 6) the elements carry under forces (p, 3) at the points."""
        p = self.points
        total = np.einsum("pa,pai->pi", force_N, p.wrench)
        count = len(self.flexibility) + 1
        node = np.concatenate([p.outer, np.maximum(p.inner, 0), np.maximum(p.inner, -1) + 1])
        held = np.where(p.inner >= 0, 1.0, 0.0)
        weight = np.concatenate([np.ones(len(held)), -(1 - p.share) * held, -p.share * held])
        size = (weight.reshape(3, -1, 1) * total).reshape(-1, 6)
        nodal = np.stack([np.bincount(node, size[:, i], count) for i in range(6)], axis=1)
        return np.asarray(np.cumsum(nodal[:0:-1], axis=0, dtype=np.float64)[::-1])

    def motion(self, added_twist: Array) -> Array:
        """Motion (p, 3) at the points when the elements add twists (e, 6) about the origin."""
        p = self.points
        twist = np.concatenate([np.zeros((1, 6)), np.cumsum(added_twist, axis=0)])
        at = np.maximum(p.inner, 0)
        share = np.where(p.inner >= 0, p.share, 0.0)[:, None]
        after = np.minimum(at + 1, len(twist) - 1)
        relative = twist[p.outer] - (1 - share) * twist[at] - share * twist[after]
        return np.asarray(np.einsum("pai,pi->pa", p.wrench, relative))

    def apply(self, force_N: Array) -> Array:
        """See `Compliance.apply`."""
        return self.motion(np.einsum("eij,ej->ei", self.flexibility, self.carried(force_N)))


def chain_compliance(points: Points, flexibility: Array) -> ChainCompliance:
    """Prepare the compliance of points on a chain from its element flexibilities (e, 6, 6).

    Parameters
    ----------
    points : Points
        Places and lines of force.
    flexibility : numpy.ndarray
        Of the elements about the origin, shape (e, 6, 6).

    Returns
    -------
    ChainCompliance
        Ready to solve with.
    """
    running = np.concatenate([np.zeros((1, 6, 6)), np.cumsum(flexibility, axis=0)])
    held = points.inner >= 0
    at = np.where(held, points.inner, 0)
    inner = running[at] + (points.share * held)[:, None, None] * flexibility[at]
    return ChainCompliance(
        points=points,
        flexibility=flexibility,
        at_outer=points.wrench @ running[points.outer],
        at_inner=points.wrench @ inner,
        cuts=_cuts(points, len(flexibility)),
    )


def _merged(cuts: IntArray, count: int, least: int = 48) -> IntArray:
    """Ends of blocks: cuts between ordered unknowns, those that would leave little left out."""
    ends = [0]
    for cut in cuts.tolist():
        if cut - ends[-1] >= least and count - cut >= least:
            ends.append(cut)
    return np.array([*ends, count], dtype=np.int64)


def _take_off(
    own: list[Array],
    back: list[Array],
    ahead: list[Array],
    ends: IntArray,
    pairs: tuple[IntArray, IntArray],
    extra: Array,
) -> None:
    """Take off what pairs of ordered unknowns, row and column, have too much in their blocks."""
    i, j = pairs
    block = np.searchsorted(ends, i, side="right") - 1
    other = np.searchsorted(ends, j, side="right") - 1

    def take(part: Array, b: int, c: int) -> None:
        here = np.flatnonzero((block == b) & (other == c))
        part[i[here] - ends[b], j[here] - ends[c]] -= extra[here]

    for b, D in enumerate(own):
        take(D.T, b, b)
    for b in range(len(back)):
        take(back[b], b + 1, b)
        take(ahead[b], b, b + 1)


def _near_pairs(cell: Array) -> tuple[IntArray, IntArray]:
    """Pairs of places that fall into one cell, cells below 0 left out."""
    order = np.argsort(cell, kind="stable")
    ranked = cell[order]
    first = np.searchsorted(ranked, ranked, side="left")
    count = np.where(ranked < 0, 0, np.searchsorted(ranked, ranked, side="right") - first)
    i = np.repeat(np.arange(len(cell)), count)
    begin = np.cumsum(count) - count
    return order[i], order[np.arange(len(i)) - begin[i] + first[i]]


def _cuts(points: Points, last: int) -> IntArray:
    """First nodes of stretches: no point beyond the next cut reaches back before this one."""
    reach = np.full(last + 1, last, dtype=np.int64)
    np.minimum.at(reach, points.outer, points.inner)
    reach = np.minimum.accumulate(reach[::-1])[::-1]  # least inner end at or beyond a node
    cuts: list[int] = []
    need = 0
    while True:
        node = int(np.searchsorted(reach, need, side="left"))
        if node > last or (cuts and node <= cuts[-1]):
            return np.array(cuts, dtype=np.int64)
        cuts.append(node)
        need = node - 1 if node - 1 > need else need + 1
