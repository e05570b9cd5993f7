"""Rotations against closed forms: known turns, their tangent, and the way back."""

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.spatial.transform import Rotation

from fitsim.strip.kernels import rotation_and_tangent, rotation_vector

VECTORS = np.array(
    [[0.0, 0.0, 0.0], [1e-9, -2e-9, 5e-10], [4e-4, 3e-4, -8e-4], [0.3, -0.8, 0.45], [-1.9, 1.1, 1.7]]
)


def _rotations(vectors: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    R, T = np.empty((2, len(vectors), 3, 3))
    for vector, turned, tangent in zip(vectors, R, T, strict=True):
        rotation_and_tangent(vector, turned, tangent)
    return R, T


def _skew(v: np.ndarray) -> np.ndarray:
    return np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])


def test_a_quarter_turn_about_an_axis() -> None:
    """Turned by 90 degrees about z the x axis becomes y, and z stays."""
    R, _T = _rotations(np.array([[0.0, 0.0, np.pi / 2]]))
    assert R[0] == pytest.approx(np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]]), abs=1e-15)


def test_a_rotation_is_the_exponential_of_its_vector() -> None:
    """R is the matrix exponential of the skew matrix, and what a general library makes of the vector."""
    R, _T = _rotations(VECTORS)
    assert pytest.approx(np.array([expm(_skew(v)) for v in VECTORS]), abs=1e-13) == R
    assert pytest.approx(Rotation.from_rotvec(VECTORS).as_matrix(), abs=1e-13) == R


def test_the_tangent_is_the_small_turning_of_a_small_change() -> None:
    """exp(psi + h d) is exp(h T d) exp(psi) to the first order in h, whatever the direction d."""
    h = 1e-6
    for d in np.array([[0.7, -0.2, 0.4], [-0.1, 0.9, 0.3]]):
        (more, _), (less, _) = _rotations(VECTORS + h * d), _rotations(VECTORS - h * d)
        R, T = _rotations(VECTORS)
        turning = np.matmul((more - less) / (2 * h), np.swapaxes(R, 1, 2))
        assert turning == pytest.approx(np.array([_skew(v) for v in T @ d]), abs=2e-9)


def test_the_vector_of_a_rotation_is_found_again() -> None:
    """Rotation vectors of less than half a turn come back from their matrices."""
    found = np.empty(3)
    for vector, turned in zip(VECTORS, _rotations(VECTORS)[0], strict=True):
        rotation_vector(turned, found)
        assert found == pytest.approx(vector, abs=1e-14, rel=1e-12)
