"""A solid model of the strip: three-dimensional finite elements, large displacements, contact.

Independent of the package's beam: hexahedra with 27 nodes (scikit-fem's shape functions and quadrature)
fill the leaning strip; the wood's constants stay in the board's axes, so the grain turns under the strip by
itself; strains are Green's with the material's law kept for the second Piola-Kirchhoff stress (small
strains, rotations of any size). The strip is one element slab after another, so the stiffness is solved as
a block tridiagonal matrix; contact and nail are few and are added by the Woodbury formula. Bevels meet
node on face without friction, both ways: nodes of the inner face on the neighbour's outer face, and nodes
of the neighbour's upper edge on the inner face, each with a stiff spring that sets in smoothly.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import RegularGridInterpolator
from scipy.linalg import lu_factor, lu_solve
from skfem import Basis, ElementHex2, MeshHex

VOIGT = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
"""Order of stresses and strains: xx, yy, zz, yz, xz, xy."""


def solid_stiffness(wood):
    """Stiffness 6 x 6 in board axes of a flat-sawn board: x along the grain L, y = T, z = R. [MPa]"""
    S = np.zeros((6, 6))
    L, T, R = 0, 1, 2
    S[L, L], S[T, T], S[R, R] = 1 / wood.E_L_MPa, 1 / wood.E_T_MPa, 1 / wood.E_R_MPa
    S[L, T] = S[T, L] = -wood.nu_LT / wood.E_L_MPa
    S[L, R] = S[R, L] = -wood.nu_LR / wood.E_L_MPa
    S[R, T] = S[T, R] = -wood.nu_RT / wood.E_R_MPa
    S[3, 3], S[4, 4], S[5, 5] = 1 / wood.G_RT_MPa, 1 / wood.G_LR_MPa, 1 / wood.G_LT_MPa
    return np.linalg.inv(S)


@dataclass(eq=False)
class Solid:
    """A strip of slabs; nodes run plane by plane, within a plane by width then height.

    ``X`` (nodes, 3) at rest; ``cells`` (elements, 27); ``grad`` (elements, points, 27, 3) of the shape
    functions by rest coordinates; ``dV`` (elements, points); ``C`` (6, 6); ``param`` (nodes, 3): angle from
    the root, place across -1 .. 1, place up -1 .. 1; ``place`` the same at the points, (elements, points,
    3).
    """

    X: np.ndarray
    cells: np.ndarray
    grad: np.ndarray
    shape: np.ndarray
    dV: np.ndarray
    C: np.ndarray
    param: np.ndarray
    place: np.ndarray
    slabs: int
    across: int
    up: int
    heights: np.ndarray
    per_plane: int = field(init=False)

    def __post_init__(self):
        self.per_plane = (2 * self.across + 1) * (2 * self.up + 1)


def graded(count, towards):
    """Edges of elements from -1 to 1, even (0) or gathered at the ends (towards 1)."""
    even = np.linspace(-1, 1, count + 1)
    return (1 - towards) * even + towards * np.sin(np.pi / 2 * even)


def make_solid(line, C, *, span_rad, slabs, across, up, order=4, towards=0.0):
    """Mesh of a strip; ``line(param) -> X`` places nodes from (angle, -1 .. 1, -1 .. 1).

    ``towards`` gathers the elements at the flat faces, where the stress of twist falls steeply.
    """
    heights = graded(up, towards)
    grid = MeshHex.init_tensor(np.linspace(0, span_rad, slabs + 1), np.linspace(-1, 1, across + 1), heights)
    basis = Basis(grid, ElementHex2(), intorder=order)
    at = basis.doflocs.T
    key = np.round(at[:, :2] / [span_rad / (2 * slabs), 1 / across]).astype(int)
    rank = np.lexsort((at[:, 2], key[:, 1], key[:, 0]))
    new = np.empty_like(rank)
    new[rank] = np.arange(len(rank))
    cells = new[basis.element_dofs.T]
    param = at[rank]
    # Slab by slab, so that the elements of a slab stand together.
    by = np.argsort(cells.min(axis=1), kind="stable")
    cells = cells[by]
    X = line(param)
    value = np.stack([np.broadcast_to(f[0], basis.dx.shape) for f in basis.basis])[:, by]  # (27, e, q)
    dref = np.stack([f[0].grad for f in basis.basis])[:, :, by]  # (27, 3, e, q) by parameters
    J = np.einsum("aieq,eaj->eqji", dref, X[cells])  # dX_j / dp_i
    inv = np.linalg.inv(J)
    grad = np.einsum("aieq,eqij->eqaj", dref, inv)
    dV = np.abs(np.linalg.det(J)) * basis.dx[by]
    place = np.einsum("aeq,eaj->eqj", value, param[cells])
    value = np.moveaxis(value, 0, 2)
    return Solid(X, cells, grad, value, dV, C, param, place, slabs, across, up, heights)


def _strain_rows(solid, u, batch):
    """Deformation gradient, strain (e, q, 6) and its rows (e, q, 6, 81)."""
    G = solid.grad[batch]
    H = np.matmul(u[solid.cells[batch]].transpose(0, 2, 1)[:, None], G)  # du_k/dX_j
    F = H + np.eye(3)
    E = 0.5 * (np.matmul(F.transpose(0, 1, 3, 2), F) - np.eye(3))
    strain = np.stack([E[..., i, j] * (1 if i == j else 2) for i, j in VOIGT], axis=-1)
    B = np.empty((*G.shape[:2], 6, G.shape[2], 3))
    for r, (i, j) in enumerate(VOIGT):
        B[:, :, r] = G[..., :, i, None] * F[:, :, None, :, j]
        if i != j:
            B[:, :, r] += G[..., :, j, None] * F[:, :, None, :, i]
    return strain, B.reshape(*G.shape[:2], 6, -1)


def stress_MPa(solid, u):
    """Second Piola-Kirchhoff stress at the points in board axes, (elements, points, 6). [MPa]"""
    out = np.empty((*solid.dV.shape, 6))
    for first in range(0, len(solid.cells), 200):
        batch = slice(first, first + 200)
        out[batch] = _strain_rows(solid, u, batch)[0] @ solid.C
    return out


class Tangent:
    """Forces inside the strip and the factors of its tangent stiffness, the first plane built in."""

    def __init__(self, solid, u):
        n = 3 * solid.per_plane
        nel = solid.across * solid.up
        self.solid, self.n = solid, n
        self.force = np.zeros_like(solid.X)
        slab = np.zeros((solid.slabs, 3 * n, 3 * n))
        dofs = (3 * solid.cells[:, :, None] + np.arange(3)).reshape(len(solid.cells), -1)
        step = max(1, 200 // nel)
        for s in range(0, solid.slabs, step):
            batch = slice(s * nel, min(s + step, solid.slabs) * nel)
            strain, B = _strain_rows(solid, u, batch)
            S = strain @ solid.C
            dV = solid.dV[batch]
            e, q = dV.shape
            f = np.einsum("eqr,eqrd->ed", S * dV[..., None], B)
            np.add.at(self.force, solid.cells[batch], f.reshape(e, -1, 3))
            CB = np.matmul(solid.C * dV[..., None, None], B)
            K = np.matmul(B.reshape(e, q * 6, -1).transpose(0, 2, 1), CB.reshape(e, q * 6, -1))
            G = solid.grad[batch]
            Sm = np.empty((e, q, 3, 3))
            for r, (i, j) in enumerate(VOIGT):
                Sm[..., i, j] = Sm[..., j, i] = S[..., r]
            SG = np.matmul(G, Sm * dV[..., None, None])
            g = np.matmul(
                G.transpose(0, 2, 1, 3).reshape(e, -1, q * 3),
                SG.transpose(0, 1, 3, 2).reshape(e, q * 3, -1),
            )
            K.reshape(e, 27, 3, 27, 3)[:, :, [0, 1, 2], :, [0, 1, 2]] += g
            for k in range(e):
                m = (batch.start + k) // nel
                d = dofs[batch.start + k] - 2 * m * n
                slab[m][d[:, None], d] += K[k]
        self._factor(slab)

    def _factor(self, slab):
        n = self.n
        self.lu, self.low = [], []
        for m in range(len(slab)):
            # Unknowns of block m: middle plane and far plane of the slab; the near plane belongs to m - 1.
            K = slab[m][n:, n:].copy()
            if m + 1 < len(slab):
                K[n:, n:] += slab[m + 1][:n, :n]
            link = slab[m][n:, :n]  # to the near plane
            if m:
                X = lu_solve(self.lu[-1], np.vstack([np.zeros((n, n)), np.eye(n)]), check_finite=False)
                K -= link @ X[n:] @ link.T
            self.low.append(link)
            self.lu.append(lu_factor(K, check_finite=False, overwrite_a=True))

    def solve(self, right):
        """Displacements of free nodes for loads (3 (N - plane), m)."""
        n = self.n
        r = right.reshape(len(self.lu), 2 * n, -1).copy()
        y = np.empty_like(r)
        for m in range(len(self.lu)):
            if m:
                r[m] -= self.low[m] @ y[m - 1][n:]
            y[m] = lu_solve(self.lu[m], r[m], check_finite=False)
        x = y
        for m in range(len(self.lu) - 2, -1, -1):
            back = np.zeros_like(x[m])
            back[n:] = self.low[m + 1].T @ x[m + 1]
            x[m] -= lu_solve(self.lu[m], back, check_finite=False)
        return x.reshape(right.shape)


@dataclass(frozen=True)
class Cut:
    """The bowl of the design notes: an Archimedean cut of constant width."""

    turns: float = 3.0
    base_mm: float = 27.8
    pitch_mm: float = 6.35
    kerf_mm: float = 0.64
    thickness_mm: float = 19.05
    tilt_rad: float = np.radians(5)
    start_rad: float = 0.0

    @property
    def slot_mm(self):
        """Slot in the plane."""
        return self.kerf_mm / np.cos(self.tilt_rad)

    @property
    def width_mm(self):
        """Width of the strip in the plane."""
        return self.pitch_mm - self.slot_mm

    def line(self, param):
        """Rest coordinates of (angle, across, up)."""
        a, xi, zeta = param.T
        z = zeta * self.thickness_mm / 2
        r = self.base_mm + self.pitch_mm * (a / (2 * np.pi) + 0.5)
        r = r + xi * self.width_mm / 2 + z * np.tan(self.tilt_rad)
        b = a + self.start_rad
        return np.stack([r * np.cos(b), r * np.sin(b), z], axis=1)


class Bevels:
    """Contact of the faces and the nail of a solid strip."""

    def __init__(self, solid, cut, *, stiff_N_per_mm3=400.0, soft_mm=2e-3, nail="bevel", friction=0.0):
        self.solid, self.cut, self.soft, self.k_area = solid, cut, soft_mm, stiff_N_per_mm3
        p, per = solid.param, solid.per_plane
        self.du = 2 * np.pi * cut.turns / (2 * solid.slabs)  # angle between planes
        self.turn = round(2 * np.pi / self.du)
        nz = 2 * solid.up + 1
        planes = 2 * solid.slabs + 1
        grid = np.arange(planes * per).reshape(planes, 2 * solid.across + 1, nz)
        self.inner, self.outer = grid[:, 0, :], grid[:, -1, :]
        # Base: outer face one turn before the strip, fixed.
        a = self.du * np.arange(-self.turn, 0)
        levels = p[:nz, 2]
        A, Z = np.meshgrid(a, levels, indexing="ij")
        self.base = cut.line(np.stack([A.ravel(), np.ones(A.size), Z.ravel()], 1)).reshape(self.turn, nz, 3)
        r = cut.base_mm + cut.pitch_mm * (p[:, 0] / (2 * np.pi))
        # Pass one: nodes of inner faces; pass two: nodes of upper edges of outer faces (base too).
        self.first = self.inner[1:].ravel()
        tall = np.diff(solid.heights)
        simpson = np.zeros(nz)
        for i, weight in enumerate((1, 4, 1)):
            simpson[i : i + 2 * solid.up : 2] += weight * tall
        share = np.tile(simpson / simpson.sum(), (planes - 1, 1)).ravel()
        along = np.tile(np.where(np.arange(1, planes) % 2, 4 / 3, 2 / 3)[:, None], (1, nz)).ravel()
        self.area1 = share * along * self.du * r[self.first] * cut.thickness_mm
        edge = np.arange(-self.turn + 1, planes - self.turn)
        self.edge = edge
        rr = cut.base_mm + cut.pitch_mm * (edge * self.du / (2 * np.pi) + 1)
        along = np.where((edge % 2) == 1, 4 / 3, 2 / 3)
        self.area2 = along * self.du * rr * 2.0
        self.v1 = p[self.first, 2].copy()
        self.s1 = np.repeat(np.arange(1, planes), nz).astype(float) - self.turn
        self.v2 = np.ones(len(edge))
        self.s2 = edge.astype(float) + self.turn
        self.nail = nail
        self.friction, self.drag_share = friction, 0.3
        self.drag, self.slid_from = None, None
        self.end_in = grid[-1, 0, solid.up]
        self.end_out = grid[-1 - self.turn, -1, solid.up]
        if nail == "centres":
            self.end_in = grid[-1, solid.across, solid.up]
            self.end_out = grid[-1 - self.turn, solid.across, solid.up]

    def _surface(self, face_nodes, first_plane, x, s, v):
        """Point, derivatives and nodes with weights on a face at plane s, height v (-1 .. 1)."""
        planes, _nz = face_nodes
        el = np.clip(np.floor(s / 2).astype(int), first_plane // 2, (planes + first_plane - 1) // 2 - 1)
        q = s - 2 * el - 1  # -1 .. 1
        edge = self.solid.heights
        ek = np.clip(np.searchsorted(edge, v) - 1, 0, len(edge) - 2)
        tall = edge[ek + 1] - edge[ek]
        w = 2 * (v - edge[ek]) / tall - 1
        Nq, dNq = _quadratic(q)
        Nw, dNw = _quadratic(w)
        dNw = dNw * (2 / tall)[:, None]
        i = (2 * el)[:, None] + np.arange(3)
        j = (2 * ek)[:, None] + np.arange(3)
        P = x[(i - first_plane)[:, :, None], j[:, None, :]]  # (c, 3, 3, 3)
        at = np.einsum("ca,cb,cabk->ck", Nq, Nw, P)
        ds = np.einsum("ca,cb,cabk->ck", dNq, Nw, P)
        dv = np.einsum("ca,cb,cabk->ck", Nq, dNw, P)
        return at, ds, dv, i, j, Nq[:, :, None] * Nw[:, None, :]

    def _closest(self, planes, nz, first_plane, x, target, s, v):
        for _ in range(4):
            at, ds, dv, *_ = self._surface((planes, nz), first_plane, x, s, v)
            miss = target - at
            a11, a12, a22 = (np.einsum("ck,ck->c", p, q) for p, q in ((ds, ds), (ds, dv), (dv, dv)))
            b1, b2 = np.einsum("ck,ck->c", ds, miss), np.einsum("ck,ck->c", dv, miss)
            det = a11 * a22 - a12**2
            s = s + np.clip((a22 * b1 - a12 * b2) / det, -2, 2)
            v = v + np.clip((a11 * b2 - a12 * b1) / det, -0.5, 0.5)
            s = np.clip(s, first_plane, first_plane + planes - 1)
        at, ds, dv, i, j, N = self._surface((planes, nz), first_plane, x, s, v)
        n = np.cross(ds, dv)
        n /= np.linalg.norm(n, axis=1)[:, None]
        return s, v, at, n, i, j, N, ds, dv

    def rows(self, u):
        """Gaps, stiffness and rows: lists of (node, weight vector) as arrays."""
        x = self.solid.X + u
        planes, nz = len(self.inner), self.inner.shape[1]
        outer = np.concatenate([self.base, x[self.outer]])
        node_o = np.concatenate([np.full((self.turn, nz), -1), self.outer])
        target = x[self.first]
        self.s1, self.v1, at, n, i, j, N, s1d, v1d = self._closest(
            planes + self.turn, nz, -self.turn, outer, target, self.s1, np.clip(self.v1, -3, 3)
        )
        gap1 = np.einsum("ck,ck->c", n, target - at)
        on1 = np.abs(self.v1) <= 1
        nodes1 = np.concatenate(
            [self.first[:, None], node_o[(i + self.turn)[:, :, None], j[:, None, :]].reshape(len(n), -1)], 1
        )
        share1 = np.concatenate([np.ones((len(n), 1)), -N.reshape(len(n), -1)], 1)
        W1 = share1[:, :, None] * n[:, None]
        # Pass two.
        top = outer[self.edge + self.turn, -1]
        ntop = node_o[self.edge + self.turn, -1]
        n1 = n
        self.s2, self.v2, at, n, i, j, N, ds, dv = self._closest(
            planes, nz, 0, x[self.inner], top, self.s2, np.clip(self.v2, -3, 3)
        )
        gap2 = np.einsum("ck,ck->c", n, at - top)
        on2 = np.abs(self.v2) <= 1
        nodes2 = np.concatenate(
            [ntop[:, None], self.inner[i[:, :, None], j[:, None, :]].reshape(len(n), -1)], 1
        )
        share2 = np.concatenate([np.ones((len(n), 1)), -N.reshape(len(n), -1)], 1)
        W2 = -share2[:, :, None] * n[:, None]
        self.share = np.concatenate([share1, share2])
        gap = np.concatenate([gap1, gap2])
        k = self.k_area * np.concatenate([self.area1, self.area2])
        on = np.concatenate([on1, on2])
        where = np.concatenate([target, top])
        self._sliding(np.concatenate([s1d, ds]), np.concatenate([v1d, dv]), n1, n)
        return gap, k, on, np.concatenate([nodes1, nodes2]), np.concatenate([W1, W2]), where

    def _sliding(self, ds, dv, n1, n2):
        """Directions on the faces and how far each point has slid along them since the last press."""
        n = np.concatenate([n1, n2])
        e1 = ds / np.linalg.norm(ds, axis=1)[:, None]
        self.along = np.stack([e1, np.cross(n, e1)], axis=1)
        now = np.stack([np.concatenate([self.s1, self.s2]), np.concatenate([self.v1, self.v2])], axis=1)
        if self.slid_from is None:
            self.slid_from, self.drag = now, np.zeros_like(now)
        step = now - self.slid_from
        moved = step[:, :1] * ds + step[:, 1:] * dv
        self.slid = np.einsum("cdk,ck->cd", self.along, moved)
        self.now = now

    def drag_law(self, push, slope, k):
        """Friction forces (c, 2) and their slopes by pressing and by sliding, (c, 2) and (c, 2, 2)."""
        kt = self.drag_share * k
        trial = self.drag - kt[:, None] * self.slid
        size, most = np.linalg.norm(trial, axis=1), self.friction * push
        slips = size > most
        d = trial / np.maximum(size, 1e-12)[:, None]
        force = np.where(slips[:, None], most[:, None] * d, trial)
        by_gap = np.where(slips[:, None], self.friction * slope[:, None] * d, 0.0)
        turn = np.eye(2) - d[:, :, None] * d[:, None, :]
        ratio = np.where(slips, most / np.maximum(size, 1e-12), 1.0)
        by_slide = np.where(slips[:, None, None], turn, np.eye(2)) * (ratio * kt)[:, None, None]
        return force, by_gap, by_slide

    def settle(self, force):
        """Keep the friction forces and places of a balanced state for the next press."""
        self.drag, self.slid_from = force, self.now


def _quadratic(q):
    q = q[:, None]
    N = np.concatenate([q * (q - 1) / 2, 1 - q**2, q * (q + 1) / 2], 1)
    d = np.concatenate([q - 0.5, -2 * q, q + 0.5], 1)
    return N, d


@dataclass(eq=False)
class Pressed:
    """A balanced state: displacements, forces of the contact points and the nail's force."""

    u: np.ndarray
    press_N: float
    gap: np.ndarray
    normal_N: np.ndarray
    where: np.ndarray
    nail_N: np.ndarray
    iterations: int


def rim_share(solid, cut):
    """Nodal shares of an upward press spread evenly over the volume of the last turn, (nodes,)."""
    last = solid.place[..., 0].mean(axis=1) > 2 * np.pi * (cut.turns - 1)
    share = np.zeros(len(solid.X))
    w = np.einsum("eq,eqa->ea", solid.dV[last], solid.shape[last])
    np.add.at(share, solid.cells[last], w)
    return share / share.sum()


def press_solid(solid, bevels, share, press_N, u, *, tolerance_mm=2e-4, most=60, most_move=3.0, say=False):
    """Newton from the displacements ``u``; returns the balanced state."""
    per = solid.per_plane
    load = np.zeros_like(solid.X)
    load[:, 2] = share * press_N
    k_nail = 2e4
    for it in range(most):
        tangent = Tangent(solid, u)
        gap, k, on, nodes, W, where = bevels.rows(u)
        soft = bevels.soft
        push = np.where(on, k * soft * np.logaddexp(0, np.clip(-gap / soft, -700, 1e9)), 0.0)
        slope = np.where(on, k / (1 + np.exp(np.clip(gap / soft, -700, 700))), 0.0)
        act = np.flatnonzero(slope > 1e-4 * k)
        rubs = bevels.friction > 0
        wide = 3 if rubs else 1
        rows = np.zeros((wide * len(act) + 3, 3 * len(solid.X)))
        pull, stiff = np.zeros(len(rows)), np.zeros((len(rows), len(rows)))
        force, by_gap, by_slide = bevels.drag_law(push, slope, k)
        for c, a in enumerate(act):
            ok = nodes[a] >= 0
            ways = [W[a], *(bevels.share[a][:, None] * e for e in bevels.along[a])] if rubs else [W[a]]
            for r, way in enumerate(ways):
                for d in range(3):
                    np.add.at(rows[wide * c + r], 3 * nodes[a][ok] + d, way[ok, d])
            own = slice(wide * c, wide * c + wide)
            pull[own] = [push[a], *force[a]][:wide]
            # The gap closes as the first row moves inward: all three forces fall along the rows.
            law = np.zeros((3, 3))
            law[0, 0], law[1:, 0], law[1:, 1:] = slope[a], by_gap[a], by_slide[a]
            stiff[own, own] = law[:wide, :wide]
        if bevels.nail != "none":
            apart = u[bevels.end_in] - u[bevels.end_out]
            for d in range(3):
                rows[len(rows) - 3 + d, 3 * bevels.end_in + d] = 1
                rows[len(rows) - 3 + d, 3 * bevels.end_out + d] = -1
            pull[-3:] = -k_nail * apart
            stiff[-3:, -3:] = k_nail * np.eye(3)
        residual = load - tangent.force + (rows.T @ pull).reshape(-1, 3)
        free = slice(3 * per, None)
        R = rows[:, free].T
        sol = tangent.solve(np.column_stack([residual.ravel()[free], R]))
        x0, XR = sol[:, 0], sol[:, 1:]
        lam = np.linalg.solve(np.eye(len(rows)) + stiff @ (R.T @ XR), stiff @ (R.T @ x0))
        step = (x0 - XR @ lam).reshape(-1, 3)
        size = np.abs(step).max()
        scale = min(1.0, most_move / size)
        u = u.copy()
        u[per:] += scale * step
        if say:
            print(
                f"  {it} act {len(act)} step {size:.2e} rise {share @ u[:, 2]:.3f} N {push.sum():.1f}",
                flush=True,
            )
        if size < tolerance_mm:
            break
    gap, k, on, nodes, W, where = bevels.rows(u)
    push = np.where(on, k * bevels.soft * np.logaddexp(0, np.clip(-gap / bevels.soft, -700, 1e9)), 0.0)
    slope = k / (1 + np.exp(np.clip(gap / bevels.soft, -700, 700)))
    bevels.settle(bevels.drag_law(push, slope, k)[0])
    nail = -k_nail * (u[bevels.end_in] - u[bevels.end_out])
    return Pressed(u, press_N, gap, push, where, nail, it)


def rim_heights(solid, cut, u):
    """Rise of the middle of the section over the last turn, plane by plane, (planes,). [mm]"""
    planes = 2 * solid.slabs + 1
    middle = u.reshape(planes, 2 * solid.across + 1, 2 * solid.up + 1, 3)[:, solid.across, solid.up, 2]
    angle = np.linspace(0, 2 * np.pi * cut.turns, planes)
    return middle[angle >= 2 * np.pi * (cut.turns - 1) - 1e-9]


def from_solid(solid, other, u):
    """Displacements on another mesh of the same strip, (nodes, 3)."""
    p = other.param
    planes, nx, nz = 2 * other.slabs + 1, 2 * other.across + 1, 2 * other.up + 1
    axes = (p[:: nx * nz, 0], p[: nx * nz : nz, 1], p[:nz, 2])
    there = RegularGridInterpolator(axes, u.reshape(planes, nx, nz, 3), bounds_error=False, fill_value=None)
    return there(solid.param)


def from_beam(solid, cut, strip, shape):
    """Displacements of the solid if its sections moved rigidly with a beam's."""
    n = len(strip.position_mm)
    node = solid.param[:, 0] / (2 * np.pi * cut.turns) * (n - 1)
    first = np.minimum(np.floor(node + 1e-9).astype(int), n - 2)
    share = (node - first)[:, None]
    out = 0
    for k, w in ((first, 1 - share), (first + 1, share)):
        turn = shape.frame[k] @ np.swapaxes(strip.frame[k], 1, 2)
        out = out + w * (
            shape.position_mm[k] + np.einsum("kij,kj->ki", turn, solid.X - strip.position_mm[k])
        )
    return out - solid.X


def in_strip_axes(stress, psi_rad):
    """Board stresses (.., 6) as s, sn, sz, n, z, nz of sections whose tangent makes psi with x."""
    c, s = np.cos(psi_rad), np.sin(psi_rad)
    xx, yy, zz, yz, xz, xy = np.moveaxis(stress, -1, 0)
    return {
        "s": xx * c * c + yy * s * s + 2 * xy * c * s,
        "sn": (xx - yy) * c * s - xy * (c * c - s * s),
        "sz": xz * c + yz * s,
        "n": xx * s * s + yy * c * c - 2 * xy * c * s,
        "z": zz,
        "nz": xz * s - yz * c,
    }


def tangent_rad(cut, angle_rad):
    """Direction of the strip's tangent at angles from the root."""
    r = cut.base_mm + cut.pitch_mm * (angle_rad / (2 * np.pi) + 0.5)
    return angle_rad + cut.start_rad + np.pi / 2 - np.arctan2(cut.pitch_mm / (2 * np.pi), r)


def section_forces(solid, cut, own):
    """Shear n, stretch, shear b and the moments about n, t, b, mean over each slab, (slabs, 6)."""
    r = cut.base_mm + cut.pitch_mm * (solid.place[..., 0] / (2 * np.pi) + 0.5)
    at = np.einsum("eqa,eak->eqk", solid.shape, solid.X[solid.cells])
    n, z = np.hypot(at[..., 0], at[..., 1]) - r, at[..., 2]
    weight = solid.dV / (1 + n / r)
    share = weight.reshape(solid.slabs, -1)
    share = (share / share.sum(axis=1)[:, None]).reshape(weight.shape) * cut.width_mm * cut.thickness_mm
    s, sn, sz = own["s"], own["sn"], own["sz"]
    parts = (sn, s, sz, -z * s, z * sn - n * sz, n * s)
    return np.stack([(part * share).reshape(solid.slabs, -1).sum(axis=1) for part in parts], axis=1)


def lifted_end(cut, C, *, slabs, across, up, towards=1.0):
    """A free strip under 1 N up at its end, small displacements: the solid and its stresses."""
    span = 2 * np.pi * cut.turns
    solid = make_solid(cut.line, C, span_rad=span, slabs=slabs, across=across, up=up, towards=towards)
    tangent = Tangent(solid, np.zeros_like(solid.X))
    end = solid.place[..., 0].mean(axis=1) > span * (1 - 1.5 / slabs)
    load = np.zeros_like(solid.X)
    pull = np.einsum("eq,eqa->ea", solid.dV[end], solid.shape[end])
    np.add.at(load[:, 2], solid.cells[end], pull / pull.sum())
    tiny = 1e-6  # so small that strains are those of small displacements
    u = np.zeros_like(load)
    free = tiny * load[solid.per_plane :].reshape(-1, 1)
    u[solid.per_plane :] = tangent.solve(free).reshape(-1, 3)
    stress = stress_MPa(solid, u) / tiny
    return solid, in_strip_axes(stress, tangent_rad(cut, solid.place[..., 0]))
