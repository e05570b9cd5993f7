"""Rotations of any size: matrices, rotation vectors and how small changes of the one show in the other.

A rotation vector points along the axis, its length is the angle. If the vector psi of a rotation
changes by a little, the body turns by the small rotation T(psi) d psi (the tangent of the
exponential map). Sources: J. Argyris, Comput. Methods Appl. Mech. Eng. 32 (1982); O. Rodrigues'
formula (both from memory). Arrays in, arrays out; rows are independent.
"""

import numpy as np

from fitsim.arrays import Array

__all__ = ["cross", "rotation_and_tangent", "rotation_vectors", "rotations", "skew"]


def cross(a: Array, b: Array) -> Array:
    """Cross products (..., 3) of vectors, several times faster than numpy's own for small arrays.

    Parameters
    ----------
    a, b : numpy.ndarray
        Vectors, shapes (..., 3) that broadcast together. [any]

    Returns
    -------
    numpy.ndarray
        Shape (..., 3). [product of both units]

    Examples
    --------
    >>> cross(np.array([1.0, 2.0, 3.0]), np.array([0.0, 1.0, -1.0])).tolist()
    [-5.0, 1.0, 1.0]
    """
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    a0, a1, a2 = a[..., 0], a[..., 1], a[..., 2]
    b0, b1, b2 = b[..., 0], b[..., 1], b[..., 2]
    out[..., 0] = a1 * b2 - a2 * b1
    out[..., 1] = a2 * b0 - a0 * b2
    out[..., 2] = a0 * b1 - a1 * b0
    return out


def skew(vector: Array) -> Array:
    """Matrices (..., 3, 3) that multiply as the cross product with a vector does.

    Parameters
    ----------
    vector : numpy.ndarray
        Shape (..., 3). [any]

    Returns
    -------
    numpy.ndarray
        Shape (..., 3, 3). [unit of the vector]
    """
    K = np.zeros((*vector.shape[:-1], 3, 3))
    K[..., 0, 1], K[..., 0, 2], K[..., 1, 2] = -vector[..., 2], vector[..., 1], -vector[..., 0]
    K[..., 1, 0], K[..., 2, 0], K[..., 2, 1] = vector[..., 2], -vector[..., 1], vector[..., 0]
    return K


def rotation_and_tangent(vector_rad: Array) -> tuple[Array, Array]:
    """Rotation matrices and tangents of rotation vectors.

    Parameters
    ----------
    vector_rad : numpy.ndarray
        Rotation vectors, shape (k, 3). [rad]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        R and T, both (k, 3, 3): a change d of the vector turns the body by the small rotation T d. [-]
    """
    K, K2, angle2, first, second = _terms(vector_rad)
    small = angle2 < 1e-6
    third = np.where(small, 1 / 6 - angle2 / 120, (1 - first) / np.where(small, 1.0, angle2))
    R = first[:, None, None] * K + second[:, None, None] * K2
    T = second[:, None, None] * K + third[:, None, None] * K2
    for i in range(3):
        R[:, i, i] += 1
        T[:, i, i] += 1
    return R, T


def rotations(vector_rad: Array) -> Array:
    """Rotation matrices of rotation vectors, without their tangents.

    Parameters
    ----------
    vector_rad : numpy.ndarray
        Rotation vectors, shape (k, 3). [rad]

    Returns
    -------
    numpy.ndarray
        Shape (k, 3, 3). [-]
    """
    K, K2, _angle2, first, second = _terms(vector_rad)
    R = first[:, None, None] * K + second[:, None, None] * K2
    for i in range(3):
        R[:, i, i] += 1
    return np.asarray(R)


def _terms(vector_rad: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Skew matrix and its square, the angle's square, and sin(a)/a and (1 - cos a)/a^2."""
    angle2 = (vector_rad * vector_rad).sum(axis=1)
    K = skew(vector_rad)
    K2 = vector_rad[:, :, None] * vector_rad[:, None, :]
    for i in range(3):
        K2[:, i, i] -= angle2
    half = 0.5 * np.sqrt(angle2)
    small = half < 1e-8
    sine = np.where(small, 1.0, np.sin(half) / np.where(small, 1.0, half))
    return K, K2, angle2, sine * np.cos(half), 0.5 * sine * sine


def rotation_vectors(rotation: Array) -> Array:
    """Rotation vectors (k, 3) of rotation matrices (k, 3, 3) by less than half a turn. [rad]

    Parameters
    ----------
    rotation : numpy.ndarray
        Rotation matrices, shape (k, 3, 3). [-]

    Returns
    -------
    numpy.ndarray
        Shape (k, 3). [rad]
    """
    axis = 0.5 * np.stack(
        [
            rotation[:, 2, 1] - rotation[:, 1, 2],
            rotation[:, 0, 2] - rotation[:, 2, 0],
            rotation[:, 1, 0] - rotation[:, 0, 1],
        ],
        axis=1,
    )
    sine = np.sqrt((axis * axis).sum(axis=1))
    cosine = 0.5 * (rotation[:, 0, 0] + rotation[:, 1, 1] + rotation[:, 2, 2] - 1)
    large = sine > 1e-9
    factor = np.where(large, np.arctan2(sine, cosine) / np.where(large, sine, 1.0), 1.0)
    return np.asarray(axis * factor[:, None])
