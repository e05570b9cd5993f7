"""The study of the handbooks' test piece against its own equilibrium and the volumes the program uses."""

import runpy
from pathlib import Path
from typing import Any

import pytest

from fitsim.wood.weakest_link import reference_volume_mm3

STUDY = Path(__file__).parents[1] / "studies" / "tension_across_piece.py"


@pytest.fixture(scope="module")
def study() -> dict[str, Any]:
    """The study, loaded and not run."""
    return runpy.run_path(str(STUDY), run_name="loaded")


def test_the_program_uses_what_the_finite_elements_find(study: dict[str, Any]) -> None:
    """Volumes of the test piece by shape: a coarser mesh than the study's agrees within 2 percent."""
    _, both, peak = study["volumes_cm3"](16)
    for shape in (5.0, 6.0, 8.0, 10.0):
        assert reference_volume_mm3(shape) / 1000 == pytest.approx(both[shape], rel=0.02)
    assert 1.35 < peak < 1.55  # over the nominal stress


def test_an_even_material_is_stressed_far_more_evenly_counted(study: dict[str, Any]) -> None:
    """In wood the stress spreads along the grain: an even material has over five times the volume."""
    wood, _, _ = study["volumes_cm3"](8)
    even, _, _ = study["volumes_cm3"](8, wood=(1000.0, 1000.0, 1000 / 2.6, 0.3))
    assert even[6.0] > 5 * wood[6.0]
