"""Break the program in named places, one at a time, and see whether the tests notice.

A fault is a line of a module turned wrong: a sign, an end of a range, a unit, the wiring of a command to
its model. Each is put into a copy of the package, and the tests that concern it are run there until one
fails. A fault that no test notices *survives*, and wants a test. Run by hand:

    python studies/faults.py                   every fault, half an hour; --processes 8: eight at once
    python studies/faults.py lean press        those whose names hold one of the words
    python studies/faults.py --check           only whether each place is still there, once

What survived when it was last run stands in DEVELOPERS.md.
"""

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue

ROOT = Path(__file__).parents[1]
MOST_SECONDS = 400


@dataclass(frozen=True)
class Fault:
    """One place turned wrong.

    Attributes
    ----------
    name : str
        What goes wrong, in a few words.
    module : str
        Module it stands in, with its packages; of the page's scripts the file, such as "page.js".
    right, wrong : str
        Text that stands there exactly once, and what takes its place.
    tests : str
        Files below ``tests``, or a part of one as pytest names it, parted by blanks.
    """

    name: str
    module: str
    right: str
    wrong: str
    tests: str


FAULTS = (
    # Wood
    Fault(
        "an inch of 25 mm",
        "fitsim.quantities",
        "INCH_MM = Fraction(254, 10)",
        "INCH_MM = Fraction(250, 10)",
        "test_quantities.py",
    ),
    Fault(
        "swelling: radial for tangential",
        "fitsim.wood.moisture",
        "across=np.asarray(e_T * c**2 + e_R * s**2)",
        "across=np.asarray(e_R * c**2 + e_T * s**2)",
        "test_moisture.py published/test_wood_handbook.py",
    ),
    Fault(
        "strength: drier is weaker",
        "fitsim.wood.moisture",
        "ratio ** ((12 - np.minimum(M, Mp)) / (Mp - 12))",
        "ratio ** ((np.minimum(M, Mp) - 12) / (Mp - 12))",
        "test_moisture.py published/test_wood_handbook.py",
    ),
    Fault(
        "coupling of bend and twist: sign",
        "fitsim.wood.grain",
        "S_16 = tilted * (2 * cc",
        "S_16 = -tilted * (2 * cc",
        "test_bend_twist.py",
    ),
    Fault(
        "small pieces weaker than large ones",
        "fitsim.wood.across_grain",
        "(reference_volume_mm3(shape) / strip.volume_mm3(shape)) ** (1 / shape)",
        "(strip.volume_mm3(shape) / reference_volume_mm3(shape)) ** (1 / shape)",
        "test_acrossgrain.py test_breaking.py",
    ),
    Fault(
        "a stronger board splits more",
        "fitsim.wood.strength",
        "* factor**-f.shape",
        "* factor**f.shape",
        "test_strength.py test_decidingtest.py",
    ),
    Fault(
        "volume of a section forgotten",
        "fitsim.wood.strength",
        "each.sum(axis=1) if by_volume else each.max(axis=1)",
        "each.max(axis=1)",
        "test_strength.py test_stress.py test_weakestlink.py test_seen.py test_explain.py",
    ),
    Fault(
        "turns seat in one long step",
        "fitsim.strip.press",
        "SEATING, GIVING_WAY = 1.5, 2.0",
        "SEATING, GIVING_WAY = 2.0, 2.0",
        "test_press.py",
    ),
    Fault(
        "a press is not asked whether it could do the work",
        "fitsim.strip.press",
        "taken - _taken_Nmm(bowl, before) <= most_Nmm",
        "taken > 0",
        "test_press.py",
    ),
    Fault(
        "words at a seam on paper that another takes away",
        "fitsim.drawing.pattern_drawing",
        "nearest_mm + OVERLAP_mm / 2, length_mm / 2 - nearest_mm",
        "nearest_mm, length_mm / 2 - nearest_mm",
        "test_pattern_pages.py",
    ),
    Fault(
        "rings that lean otherwise: one shear not mirrored",
        "fitsim.strip.stress",
        "np.array([1.0, 1.0, 1.0, -1.0, -1.0, 1.0])",
        "np.array([1.0, 1.0, 1.0, 1.0, -1.0, 1.0])",
        "test_strength.py",
    ),
    Fault(
        "rings that lean otherwise: not asked of a rift board",
        "fitsim.strip.stress",
        "if not aligned(wood.ring_angle_rad):",
        "if aligned(wood.ring_angle_rad):",
        "test_strength.py",
    ),
    Fault(
        "rings that lean otherwise: not in the range",
        "fitsim.wood.strength",
        "| {name: [chance] for name, chance in (others or {}).items()}",
        "",
        "test_strength.py",
    ),
    Fault(
        "rolling shear by its worst place",
        "fitsim.wood.strength",
        "self.shear_reference_mm3, self.rolling_reference_mm3, None)",
        "self.rolling_reference_mm3, self.shear_reference_mm3, None)",
        "test_strength.py",
    ),
    # Air and moisture
    Fault(
        "a heated room is cooled",
        "fitsim.climate.indoor_air",
        "np.maximum(outdoor.temperature_C, heated_to_C)",
        "np.minimum(outdoor.temperature_C, heated_to_C)",
        "test_indoor.py",
    ),
    Fault(
        "lag: the hour before and after exchanged",
        "fitsim.climate.moisture_lag",
        "old, new = ramp - keep, 1 - ramp",
        "new, old = ramp - keep, 1 - ramp",
        "test_lag.py",
    ),
    Fault(
        "cup turned over",
        "fitsim.geometry.cupping",
        "2 * (radial_strain - tangential_strain)",
        "2 * (tangential_strain - radial_strain)",
        "test_cupping.py",
    ),
    Fault(
        "parts of unlike size weigh alike",
        "fitsim.climate.moisture_lag",
        "sizes if len(sizes) else np.ones(len(lags))",
        "np.ones(len(lags))",
        "test_moisture_year.py",
    ),
    Fault(
        "the outer face of the rim takes no moisture",
        "fitsim.seasons.moisture_year",
        "outermost=outermost,",
        "outermost=False,",
        "test_moisture_year.py",
    ),
    Fault(
        "the turn inside a short last one has none of the edge",
        "fitsim.seasons.moisture_year",
        "bare[-2:-1] = 1 - share[-1]",
        "bare[-2:-1] = 0.0",
        "test_moisture_year.py",
    ),
    Fault(
        "the turn inside a whole last one is all edge",
        "fitsim.seasons.moisture_year",
        "bare[-2:-1] = 1 - share[-1]",
        "bare[-2:-1] = 1.0",
        "test_moisture_year.py",
    ),
    Fault(
        "a short last turn is all of the rim",
        "fitsim.seasons.moisture_year",
        "last_share * last + (1 - last_share) * before",
        "last",
        "test_moisture_year.py",
    ),
    Fault(
        "a wash wets the outer face of the rim as the others",
        "fitsim.seasons.after_move",
        "outside = bare + (1 - bare) * free",
        "outside = free",
        "test_after_move.py",
    ),
    Fault(
        "a pull is held against the mean of both ring directions",
        "fitsim.seasons.left_open",
        ".across_MPa(board.ring_angle_rad)",
        ".tension_across_MPa",
        "test_left_open.py",
    ),
    Fault(
        "a pull is held against the strength of another week",
        "fitsim.seasons.left_open",
        "EVENT_SHARE * strength[:, turn]",
        "EVENT_SHARE * strength[0, turn]",
        "test_left_open.py",
    ),
    # Geometry
    Fault(
        "slot in the plane narrower than the kerf",
        "fitsim.geometry.cut",
        "np.asarray(self.kerf_mm / np.cos(self.tilt_rad))",
        "np.asarray(self.kerf_mm * np.cos(self.tilt_rad))",
        "test_cut.py",
    ),
    Fault(
        "turns between unlike lines lean the other way",
        "fitsim.geometry.winding",
        "along = self.speed_mm + growth_mm * self.aslant",
        "along = self.speed_mm - growth_mm * self.aslant",
        "test_outline.py::test_the_cuts_direction_is_that_from_place_to_place",
    ),
    Fault(
        "a way that grows carries the cut outward",
        "fitsim.geometry.winding",
        "rate_mm - reach_mm * self.aslant * self.curvature_per_mm * self.speed_mm",
        "rate_mm",
        "test_outline.py::test_length_of_the_cut_between_unlike_lines_against_its_chords",
    ),
    Fault(
        "axes of the strip lean with the reach, not with the cut",
        "fitsim.bowl.strip_layout",
        "at.growth_mm(reach, np.gradient(reach, swept))",
        "np.gradient(reach, swept)",
        "test_outlined_bowls.py::test_the_strips_axes_follow_its_line",
    ),
    Fault(
        "a blade is wide enough where one table has it so",
        "fitsim.geometry.blade",
        "if blade_turns(least_radius(width), radius_mm) == TURNS]",
        "if blade_turns(least_radius(width), radius_mm) != DOES_NOT_TURN]",
        "test_blade.py",
    ),
    Fault(
        "a blade that may not turn is told to turn",
        "fitsim.geometry.blade",
        "if radius_mm >= least.high_mm:",
        "if radius_mm >= least.low_mm:",
        "test_blade.py test_bench_sheet.py::test_whether_the_blade_turns_is_said_alike",
    ),
    Fault(
        "film on one face only",
        "fitsim.geometry.rings",
        "left - 2 * film_mm / np.cos(tilt)",
        "left - film_mm / np.cos(tilt)",
        "test_fit.py test_shape.py test_verdict.py",
    ),
    Fault(
        "overlap over the neighbour's height alone",
        "fitsim.geometry.seats",
        "overlap=1 - binding / least(height)",
        "overlap=1 - binding / least(faces.inner_thickness_mm)",
        "laws/test_seat_laws.py",
    ),
    Fault(
        "pages of the pattern without a piece of the line",
        "fitsim.pattern.layout",
        "        kept.remove(out)",
        "        break",
        "test_layout.py",
    ),
    Fault(
        "the rings tried on the page at the middle friction",
        "fitsim.page.ring_trial",
        "friction=least_friction(answer.bowl)",
        "friction=answer.bowl.use.friction",
        "test_ring_trial.py",
    ),
    Fault(
        "the line of the pattern mirrored",
        "fitsim.pattern.layout",
        "hand = -1.0 if handling.middle_right else 1.0",
        "hand = 1.0 if handling.middle_right else -1.0",
        "test_layout.py",
    ),
    Fault(
        "the line file upside down",
        "fitsim.pattern.line_file",
        "{high[1] - y:.3f}",
        "{y - low[1]:.3f}",
        "test_sheet_command.py test_layout.py",
    ),
    Fault(
        "a nail too short by the slot",
        "fitsim.bowl.nail",
        "least = end_width_mm + slot_mm + ",
        "least = end_width_mm + ",
        "test_nail.py test_fit.py",
    ),
    # The strip
    Fault(
        "lean of the section: sign, where the strip is laid out",
        "fitsim.bowl.strip_layout",
        "(np.tan(tilt) + np.tan(outside)) / 2",
        "-(np.tan(tilt) + np.tan(outside)) / 2",
        "test_beam.py",
    ),
    Fault(
        "lean of the section: sign of the product term",
        "fitsim.strip.beam_section",
        "EI_nb_Nmm2=read_only(E * lean * I_n)",
        "EI_nb_Nmm2=read_only(-E * lean * I_n)",
        "test_beam.py test_strip.py",
    ),
    Fault(
        "lean of the section: left out of sideways bending",
        "fitsim.strip.beam_section",
        "T * w**3 / 12 + lean**2 * I_n",
        "T * w**3 / 12",
        "test_beam.py test_strip.py",
    ),
    Fault(
        "lean of the section: sign, in the element",
        "fitsim.strip.beam",
        "c_nb = section.EI_nb_Nmm2 / determinant",
        "c_nb = -section.EI_nb_Nmm2 / determinant",
        "test_strip.py test_beam.py",
    ),
    Fault(
        "coupling of bend and twist: sign, in the element",
        "fitsim.strip.beam",
        "S[:, 4, 3] = section.twist_per_bend * c_nn",
        "S[:, 4, 3] = -section.twist_per_bend * c_nn",
        "test_bend_twist.py test_strip.py",
    ),
    Fault(
        "the strip laid out at the wrong clock",
        "fitsim.bowl.strip_layout",
        "np.concatenate([inward, angle]) + bowl.cut.root_rad",
        "np.concatenate([inward, angle]) - bowl.cut.root_rad",
        "test_beam.py",
    ),
    Fault(
        "the slot of the turn outside",
        "fitsim.bowl.strip_layout",
        "slot = np.interp(angle, rigid.faces.angle_rad",
        "slot = np.interp(angle + TURN_RAD, rigid.faces.angle_rad",
        "test_beam.py",
    ),
    Fault(
        "friction's force without its bound",
        "fitsim.strip.kernels",
        "np.sqrt(y0 * y0 + y1 * y1), mu * N",
        "np.sqrt(y0 * y0 + y1 * y1), 2 * mu * N",
        "test_contact.py",
    ),
    Fault(
        "a bowl keeps half its rise",
        "fitsim.strip.release",
        "KEPT_SHARE = 0.9",
        "KEPT_SHARE = 0.5",
        "test_verdict.py test_release.py",
    ),
    Fault(
        "a step by the press that failed is never tried by the rise",
        "fitsim.strip.press",
        "self.by_rise = self.tried_by_rise = True",
        "self.part /= 2",
        "test_press.py",
    ),
    Fault(
        "a nail's tie pushes where it ought to pull",
        "fitsim.strip.kernels",
        "before[s, q, i] - k * gap[s, q, i] if k > 0",
        "before[s, q, i] + k * gap[s, q, i] if k > 0",
        "test_nail_ties.py test_press.py",
    ),
    Fault(
        "what an element carries taken about the wrong side of the origin",
        "fitsim.strip.kernels",
        "(M[j] - about[j]) * frame[k, j, i]",
        "(M[j] + about[j]) * frame[k, j, i]",
        "test_elastic.py test_press.py published",
    ),
    Fault(
        "friction used: not over the friction there is",
        "fitsim.strip.release",
        "return float(np.sqrt(slips * holds)) / bowl.friction",
        "return float(np.sqrt(slips * holds))",
        "test_release.py",
    ),
    Fault(
        "the press needed: foreseen the wrong way",
        "fitsim.strip.release",
        "ahead = holds * max((used / ALL_USED) ** (1 / power), LEAST_AHEAD)",
        "ahead = holds * max((used / ALL_USED) ** (-1 / power), LEAST_AHEAD)",
        "test_release.py",
    ),
    Fault(
        "the press needed: a press that slips is not told from one that holds",
        "fitsim.strip.release",
        "if holds <= (1 + self.within) * slips:",
        "if holds <= (1 + self.within) * slips or holds:",
        "test_release.py",
    ),
    Fault(
        "the press needed: presses that slipped on a shorter path are tried again",
        "fitsim.strip.release",
        "max(begin_N, LEAST_CLIMB * slips if between else slips)",
        "max(begin_N, slips / 3)",
        "test_release.py",
    ),
    Fault(
        "letting go: forces settled as loosely as they were",
        "fitsim.strip.turning_back",
        "AT_REST = Tolerance(0.005, 0.0004)",
        "AT_REST = Tolerance(0.005, 0.02)",
        "test_release.py",
    ),
    Fault(
        "letting go: a strip that slides is not followed",
        "fitsim.strip.turning_back",
        "return replace(slid, iterations=spent)",
        "return found",
        "test_release.py",
    ),
    Fault(
        "letting go: a sliding strip is at rest while much is out of balance",
        "fitsim.strip.sliding",
        "STILL_mm, STILL_MOTION_mm = 0.003, 0.05",
        "STILL_mm, STILL_MOTION_mm = 3.0, 5.0",
        "test_release.py",
    ),
    Fault(
        "letting go: a sliding strip has lost its grip as soon as it gives",
        "fitsim.strip.turning_back",
        "LOST_GRIP, FAST_mm, RUNS_AWAY_mm = 0.85, 1.0, 2.0",
        "LOST_GRIP, FAST_mm, RUNS_AWAY_mm = 1.1, 0.0, 0.0",
        "test_release.py",
    ),
    Fault(
        "letting go: friction's memory is not renewed while it slides",
        "fitsim.strip.sliding",
        "        here = state\n",
        "        here.followed.splines[:] = state.followed.splines\n",
        "test_release.py",
    ),
    Fault(
        "states on the way settled as loosely as a first guess",
        "fitsim.strip.equilibrium",
        "else end if goal.last else ON_THE_WAY",
        "else end if goal.last else first",
        "test_press.py",
    ),
    Fault(
        "letting go: what is out of balance shears the strip at once",
        "fitsim.strip.load_step",
        "share = 1 / (1 + self.damping)",
        "share = 1.0",
        "test_release.py",
    ),
    Fault(
        "letting go: bearing points that jump are not slowed",
        "fitsim.strip.load_step",
        "self.drag = times * drag_N_per_mm * bears",
        "self.drag = 0 * times * drag_N_per_mm * bears",
        "test_release.py",
    ),
    Fault(
        "every element stretches alike, whatever its grain",
        "fitsim.strip.splines",
        "softness_mm=softness *",
        "softness_mm=(0 * softness + softness.mean()) *",
        "test_stripsplines.py",
    ),
    Fault(
        "an element stretches with the length before its own",
        "fitsim.strip.kernels",
        "at, mid = strip.stretch_column[strip.stretch_of[k]], strip.softness_mm[k]",
        "at, mid = strip.stretch_column[max(strip.stretch_of[k] - 1, 0)], strip.softness_mm[k]",
        "test_configuration.py",
    ),
    Fault(
        "an arc's flexibility about its chord's middle, placed beside it",
        "fitsim.strip.beam",
        "return about(point), point",
        "return about(0 * point), point",
        "published/test_curved_beams.py",
    ),
    Fault(
        "an arc is taken for its chord",
        "fitsim.strip.beam",
        "half, along = 0.5 * turn_rad, np.array([0.0, 1.0, 0.0])",
        "half, along = 1e-9 * turn_rad, np.array([0.0, 1.0, 0.0])",
        "published/test_curved_beams.py",
    ),
    Fault(
        "pressing: a strip with no equilibrium near does not slide",
        "fitsim.strip.press",
        "new = self._slid(goal.press_N)",
        "new = None",
        "test_press.py",
    ),
    Fault(
        "pressing: a sliding strip's points creep",
        "fitsim.strip.equilibrium",
        "SINKS_mm, SOFTLY, HARDLY = 0.005, 50.0, 1000.0",
        "SINKS_mm, SOFTLY, HARDLY = 0.005, 5.0, 5.0",
        "test_press.py",
    ),
    Fault(
        "a state between two of a path: settled loosely though another guess comes closer",
        "fitsim.strip.release",
        "if found is not None and (found.closely or not closely):",
        "if found is not None:",
        "test_release.py",
    ),
    Fault(
        "a step of the press that failed is tried again as it was",
        "fitsim.strip.press",
        "        else:\n            self.by_rise, self.part = False, self.part / 2",
        "        else:\n            self.by_rise, self.part = False, self.part",
        "test_press.py",
    ),
    Fault(
        "a bowl that slips is said to hold",
        "fitsim.strip.release",
        "return Kept(False, max(_at_no_press",
        "return Kept(True, max(_at_no_press",
        "test_release.py",
    ),
    Fault(
        "a state of a path as it stands, however loosely settled",
        "fitsim.strip.release",
        "if same and closely and not path[last].closely:",
        "if same and closely and path[last].closely:",
        "test_release.py",
    ),
    Fault(
        "the element of the place faced stretches all along",
        "fitsim.strip.kernels",
        "part = _dot(axes[p, a], along) * (1 - ahead)",
        "part = _dot(axes[p, a], along)",
        "test_configuration.py",
    ),
    Fault(
        "the press turns the strip the wrong way about y",
        "fitsim.strip.kernels",
        "nodal[k, 4] -= lift * x[k, 0]",
        "nodal[k, 4] += lift * x[k, 0]",
        "test_configuration.py",
    ),
    Fault(
        "levers on the inner turn: the shares of its nodes exchanged",
        "fitsim.strip.kernels",
        "_add_turned_lever(lever, F, u - 1, nodal[inner])",
        "_add_turned_lever(lever, F, -u, nodal[inner])",
        "test_configuration.py",
    ),
    Fault(
        "a slot's face leans the other way above",
        "fitsim.strip.kernels",
        "+ thickness / 2 * (b_i + s / c * n_i)",
        "+ thickness / 2 * (b_i - s / c * n_i)",
        "test_elastic.py test_press.py",
    ),
    Fault(
        "warping: neighbouring sections coupled backwards",
        "fitsim.strip.warping",
        "+ (p[k + i] - slope[i]) / 2",
        "- (p[k + i] - slope[i]) / 2",
        "test_warping.py published/test_solid_strip.py",
    ),
    Fault(
        "sliding on the way to a first guess is not counted",
        "fitsim.strip.load_step",
        "sliding = 0.5 * (there + here)",
        "sliding = 0.0 * (there + here)",
        "test_release.py test_outlined_bowls.py",
    ),
    Fault(
        "a path may end loosely settled",
        "fitsim.strip.press",
        "if new is None or not self.closely or new.closely or",
        "if new is None or not self.closely or not new.closely or",
        "test_release.py",
    ),
    Fault(
        "energy of a section: it turns about its own axis the other way",
        "fitsim.strip.section_energy",
        "sz[0], sz[1], sz[2 + A + U] = 1 / h, -n / h, n / h",
        "sz[0], sz[1], sz[2 + A + U] = 1 / h, n / h, n / h",
        "test_section_energy.py test_curved_bar.py",
    ),
    Fault(
        "the headline tells the unfavourable end as the middle",
        "fitsim.report.why",
        'likely, most = f"{margin.value:.0%}"',
        'likely, most = f"{margin.worst:.0%}"',
        "test_told_verdict.py",
    ),
    Fault(
        "the rim's least height over all turns",
        "fitsim.strip.results",
        "rim = bowl.load_share > 0",
        "rim = bowl.load_share >= 0",
        "published/test_solid_model.py",
    ),
    # Judgement
    Fault(
        "elastic numbers hand back the closed form's",
        "fitsim.bowl.judgement",
        "    if seats.slot_left_mm <= 0:\n        return seats\n",
        "    if seats.slot_left_mm <= 1e9:\n        return seats\n",
        "test_elastic.py",
    ),
    Fault(
        "the press asked by the friction that asks least",
        "fitsim.bowl.hand_press",
        "friction = max(held, key",
        "friction = min(held, key",
        "test_judged_press.py",
    ),
    Fault(
        "drier turns on the sheet are stiff",
        "fitsim.pattern.table_setting",
        "    if answer.elastic is None:\n        return stiff.seats",
        "    if answer.elastic is not None:\n        return stiff.seats",
        "test_sheet_command.py",
    ),
    Fault(
        "beyond the model from stiff turns",
        "fitsim.bowl.fit",
        "overlap=None if numbers is None else numbers.overlap,",
        "overlap=None,",
        "test_beyond.py",
    ),
    Fault(
        "the pith lies where it is assumed, not where it is",
        "fitsim.bowl.beyond",
        "pith_mm = PITH_MM if board.pith_mm is None else board.pith_mm",
        "pith_mm = PITH_MM",
        "test_beyond.py",
    ),
    Fault(
        "a pith in the board turns its rings all the way round",
        "fitsim.bowl.beyond",
        "if abs(along) < half and abs(off) < board.thickness_mm / 2:",
        "if abs(along) < half and abs(off) < 0:",
        "test_beyond.py",
    ),
    Fault(
        "a limit left out is assumed in silence",
        "fitsim.bowlfile.defaults",
        "    if given.slot_left is None:\n",
        "    if given.slot_left is not None:\n",
        "test_judged_press.py",
    ),
    Fault(
        "the list of causes shows how far sizes spread for how large they are",
        "fitsim.report.failure_report",
        'f"{change.middle:g}"',
        'f"{change.spread:g}"',
        "test_explain_command.py::test_the_list_shows_what_each_cause_changes_and_where_the_table_lies",
    ),
    Fault(
        "a hollow as tight as the base's radius",
        "fitsim.geometry.offsets",
        "for line in (self.base, self.outermost))",
        "for line in (self.base, self.base))",
        "test_outline_files.py",
    ),
    Fault(
        "the rule for moisture goes untold where only the turns are dry",
        "fitsim.bowlfile.defaults",
        "(board.moisture_percent, *use.turn_moisture_percent))",
        "(board.moisture_percent,))",
        "test_bowlfile.py",
    ),
    Fault(
        "a press that is not there fails no row",
        "fitsim.bowl.verdict",
        'springs = margin(SPRINGS_BACK, "press_asked", "", 1.0, -1.0)',
        'springs = margin(SPRINGS_BACK, "kept", "", 0.9, 1.0)',
        "test_told_verdict.py test_verdict.py",
    ),
    Fault(
        "the sheet tells the press of the middle friction",
        "fitsim.pattern.bench_sheet",
        "up_to, needed = shown_presses(answer, judged.asked_N, judged.needed_N, units=units)",
        "up_to, needed = shown_presses(answer, judged.asked_N, found.press_needed_N, units=units)",
        "test_elastic_answer.py",
    ),
    Fault(
        "judged at a press that is not there",
        "fitsim.bowl.hand_press",
        "return JudgedPress(held[friction], asked, min(asked, available_N), asked",
        "return JudgedPress(held[friction], asked, asked, asked",
        "test_judged_press.py",
    ),
    Fault(
        "want of press is no springing back",
        "fitsim.bowl.verdict",
        "or not numbers.press_asked <= 1,",
        "or not numbers.press_asked <= 1e9,",
        "test_verdict.py test_judged_press.py",
    ),
    Fault(
        "a friction that is known asks for no press of its own",
        "fitsim.bowl.ranges",
        "found[corner], alone[corner] = known, friction",
        "alone[corner] = friction",
        "test_verdict.py",
    ),
    Fault(
        "the friction that decides is a guess, not tried",
        "fitsim.bowl.ranges",
        "_friction_tried(tried, corner, i, state, found) if",
        "found if",
        "test_verdict.py test_told_verdict.py",
    ),
    Fault(
        "the press that splits is carried on from the press there is",
        "fitsim.bowl.elastic",
        "while arrived and path[-1].press_N < min(limit, furthest_N) * (1 - 1e-6)",
        "while arrived and path[-1].press_N < 0.0",
        "test_told_verdict.py",
    ),
    Fault(
        "what may be is told as what is",
        "fitsim.bowl.ranges",
        "> STATES.index(state)",
        "> STATES.index(LOCKS)",
        "test_verdict.py test_told_verdict.py",
    ),
    Fault(
        "a state between two others is past where it begins",
        "fitsim.bowl.ranges",
        "_Flip(flips_at, follows, past.high)",
        "_Flip(flips_at, follows, near.high)",
        "test_verdict.py test_told_verdict.py",
    ),
    Fault(
        "a state between worst and best is not told",
        "fitsim.report.verdict_words",
        "if s in told - {verdict.state, verdict.state_at_best}",
        "if s in told - {verdict.state, verdict.state_at_best, SPLIT_RISK}",
        "test_verdict.py",
    ),
    Fault(
        "the best end of the ranges for the worst",
        "fitsim.bowl.ranges",
        "worst = replace(self.extreme(worst=True), friction_used=most)",
        "worst = replace(self.extreme(worst=False), friction_used=most)",
        "test_verdict.py test_fit.py",
    ),
    Fault(
        "the best state for the one to plan for",
        "fitsim.bowl.ranges",
        "state, at_best = judged[0], judged[-1]",
        "state, at_best = judged[-1], judged[-1]",
        "test_verdict.py test_fit.py",
    ),
    Fault(
        "friction's low end tried twice",
        "fitsim.bowl.ranges",
        "u.high if corner[-1] else u.low",
        "u.low",
        "test_verdict.py test_fit.py",
    ),
    Fault(
        "the verdict rests on the closed form",
        "fitsim.bowl.fit",
        "            elastic.opening.numbers,",
        "            closed.numbers,",
        "test_elastic_answer.py test_told_verdict.py",
    ),
    Fault(
        "no range reaches the verdict on the strip",
        "fitsim.bowl.fit",
        "ranges=mattering(bowl, deciding_numbers)",
        "ranges=()",
        "test_elastic_answer.py test_told_verdict.py",
    ),
    Fault(
        "the push that frees a taper, over its inverse",
        "fitsim.bowl.taper_statics",
        "math.tan(phi - tilt_rad) / math.tan(phi + tilt_rad)",
        "math.tan(phi + tilt_rad) / math.tan(phi - tilt_rad)",
        "laws published test_fit.py",
    ),
    Fault(
        "friction used at the ends of the ranges is that at rest",
        "fitsim.strip.release",
        "return _least_friction(prepare(bowl), released.rest, released.rise_mm, nearly=True)",
        "return released.friction_used",
        "test_elastic_answer.py::test_friction_used_is_the_same_quantity_at_the_ends_and_in_the_middle",
    ),
    Fault(
        "an end pressed as the middle is has a friction used of its own",
        "fitsim.bowl.elastic",
        "    same = bare == others and (",
        "    same = bare is others and (",
        "test_elastic_answer.py::test_friction_used_is_the_same_quantity_at_the_ends_and_in_the_middle",
    ),
    Fault(
        "friction is lowered at an end that cannot tell",
        "fitsim.bowl.ranges",
        "ends = [least] if max(told) > 1 else [most, least]",
        "ends = [most, least]",
        "test_verdict.py::test_friction_is_lowered_at_two_ends_and_only_where_that_can_tell",
    ),
    Fault(
        "an end with a shut slot tells what its turns would do",
        "fitsim.bowl.ranges",
        "return (found.press_asked > 0) == (self.middle.press_asked > 0)",
        "return True",
        "test_sweep.py::test_an_end_at_which_a_slot_is_shut_tells_nothing_but_that",
    ),
    Fault(
        "a bowl that falls through at all the press there is has no press that splits it",
        "fitsim.bowl.elastic",
        "limit, falls_N = limit_N(path), min(falls_N, fell_N)",
        "limit, falls_N = math.nan, min(falls_N, fell_N)",
        "test_elastic_answer.py::test_a_stronger_maker_is_told_the_same_press_that_splits",
    ),
    Fault(
        "where all the press there is cannot be followed nothing is told of splitting",
        "fitsim.bowl.elastic",
        "done, followed = _path_to(bare, nodes_per_turn, opening.judged.press_N), False",
        "return math.nan, math.nan",
        "test_elastic_answer.py::test_a_stronger_maker_is_told_the_same_press_that_splits",
    ),
    Fault(
        "a lesser friction that cannot be followed spoils the answer",
        "fitsim.bowl.elastic",
        "            if friction >= own:\n                raise\n",
        "            raise\n",
        "test_elastic_answer.py::test_a_lesser_friction_whose_press_cannot_be_sought_has_no_say",
    ),
    Fault(
        "collapse by the flattest bevel",
        "fitsim.bowl.fit",
        "np.max(closed.slot.tilt_rad[: tail + 1])",
        "np.min(closed.slot.tilt_rad[: tail + 1])",
        "test_fit.py::test_nail_and_collapse_of_an_uneven_cut_are_those_of_the_turns_they_are_at",
    ),
    Fault(
        "the nail crosses the innermost slot",
        "fitsim.bowl.fit",
        "slot_width = float(closed.slot.slot_mm[tail])",
        "slot_width = float(closed.slot.slot_mm[0])",
        "test_fit.py::test_nail_and_collapse_of_an_uneven_cut_are_those_of_the_turns_they_are_at",
    ),
    Fault(
        "half turns are parted where the strip crosses the grain",
        "fitsim.strip.stress",
        "half = np.floor(clock / np.pi + 0.5)",
        "half = np.floor(clock / np.pi)",
        "test_stress.py::test_a_half_turn_lies_about_where_the_strip_crosses_the_grain",
    ),
    Fault(
        "a base's sharpest bend bounds no tilt",
        "fitsim.tilt.tilt_range",
        "corner = bowl.cut.base_corner_mm or bowl.cut.base_radius_mm",
        "corner = bowl.cut.base_radius_mm",
        "test_tilt.py::test_scan_stops_where_the_base_comes_to_a_point",
    ),
    Fault(
        "fewer turns are said to widen a base of its own size",
        "fitsim.tilt.widening",
        "if bowl.cut.base_edge is not None:",
        "if bowl.cut.base_edge is None and bowl.cut.pitch_shape:",
        "test_tilt.py::test_fewer_turns_are_told_with_the_base_they_make",
    ),
    Fault(
        "the sheet allows the press of the easiest end",
        "fitsim.pattern.table_setting",
        "press_N = verdict.worst.press_asked * there_N",
        "press_N = verdict.best.press_asked * there_N",
        "test_bench_sheet.py::test_the_sheet_allows_the_press_that_the_ends_of_the_ranges_ask_for",
    ),
    Fault(
        "the sheet allows a harder press where it does harm",
        "fitsim.pattern.table_setting",
        'min((s for s in states if s in SPOILS), key=STATES.index, default="")',
        '""',
        "test_bench_sheet.py::test_the_press_of_an_end_is_not_allowed_where_it_does_harm",
    ),
    # What tests in the workshop teach
    Fault(
        "the scale's error taken off, not added",
        "fitsim.saw.kerf_and_scale",
        "tilt = scale_tilt_rad + saw.tilt_offset_rad",
        "tilt = scale_tilt_rad - saw.tilt_offset_rad",
        "test_saw.py test_testcut_command.py",
    ),
    Fault(
        "an off-cut that held read as one that slid",
        "fitsim.saw.slide_test",
        "log_ndtr(-off) if slide.held",
        "log_ndtr(off) if slide.held",
        "test_sliding.py",
    ),
    Fault(
        "moisture over the wet weight",
        "fitsim.saw.oven_test",
        "return 100 * (ratio - 1),",
        "return 100 * (1 - 1 / ratio),",
        "test_ovendry.py",
    ),
    Fault(
        "the sum over kerfs runs on beyond their limit",
        "fitsim.saw.test_cuts",
        "low = max((before.kerf_low_mm - mean[0]) / lower[0, 0], -GRID_SDS)",
        "low = -GRID_SDS",
        "test_saw.py",
    ),
    Fault(
        "a kerf held at a limit is counted as one that fits",
        "fitsim.saw.test_cuts",
        "_chance_of(closest.chi_square, closest.counted - 1)",
        "_chance_of(closest.chi_square, closest.counted - 2)",
        "test_saw.py",
    ),
    Fault(
        "kilograms taken for newtons",
        "fitsim.quantities",
        'float(FORCE.units["kgf"])',
        "1.0",
        "test_testsfile.py test_breaking.py test_workshop_command.py",
    ),
    Fault(
        "a press that spoils the wood at the middle is asked by the least friction",
        "fitsim.bowl.elastic",
        "both = (known, bowl.physics)",
        "both = (known,)",
        "test_elastic_answer.py",
    ),
    Fault(
        "a press that spoils the wood at the least friction is asked",
        "fitsim.bowl.elastic",
        "both = (known, bowl.physics)",
        "both = (bowl.physics,)",
        "test_elastic_answer.py",
    ),
    Fault(
        "another name of a bowl costs another press",
        "fitsim.bowl.elastic",
        "return BowlPhysics(board, bowl.cut, use, bowl.limits, bowl.scatter)",
        "return replace(bowl, board=board, use=use)",
        "test_elastic_answer.py::test_what_is_said_of_a_bowl_costs_no_other_press",
    ),
    Fault(
        "an input known as a range is told by its low end twice",
        "fitsim.bowl.inputs",
        "return known.low, known.high",
        "return known.low, known.low",
        "test_bowlfile.py",
    ),
    Fault(
        "what the least friction needs is forgotten where it has no say",
        "fitsim.bowl.elastic",
        "            least_needs_N = needed_N\n",
        "            least_needs_N = math.nan\n",
        "test_elastic_answer.py",
    ),
    Fault(
        "a plan locks in the middle of the friction alone",
        "fitsim.plan.pressed_wall",
        "if math.isnan(least_needs_N) or",
        "if True or",
        "test_plan.py",
    ),
    Fault(
        "the friction that asks changes from week to week",
        "fitsim.seasons.year",
        "if all(week.asking_friction",
        "if True or all(week.asking_friction",
        "test_seasons_command.py",
    ),
    Fault(
        "a press found roughly is the one that holds",
        "fitsim.strip.release",
        "return search.middle_N(holds_N) if middle",
        "return holds_N if middle",
        "test_release.py",
    ),
    Fault(
        "half of the bowls count as nine in ten",
        "fitsim.tilt.best_tilt",
        "self.chance[:, -1]) - MOSTLY",
        "self.chance[:, -1]) - 0.5",
        "test_tilt.py test_tilt_command.py",
    ),
    Fault(
        "a half degree beside is tried at the middle of the friction alone",
        "fitsim.pattern.table_setting",
        "return with_friction_known(bowl, bowl.ends_of(FRICTION)[0])",
        "return bowl",
        "test_sheet_command.py",
    ),
    Fault(
        "a tilt at which the bowl may fail is advised",
        "fitsim.pattern.bench_sheet",
        "if beside.surely_locks",
        "if True",
        "test_sheet_command.py",
    ),
    Fault(
        "every seed is 0",
        "fitsim.commands.tilt",
        "seed=asked.seed,",
        "seed=0,",
        "test_tilt_command.py::test_seed_and_most_presses_are_what_was_typed",
    ),
    Fault(
        "as many presses as the program likes",
        "fitsim.commands.tilt",
        "most_presses=asked.most_presses,",
        "most_presses=96,",
        "test_tilt_command.py::test_seed_and_most_presses_are_what_was_typed",
    ),
    Fault(
        "both ends of a pilot hole the wider one",
        "fitsim.report.answer_json",
        '"pilot_low_mm": nail.pilot_low_mm',
        '"pilot_low_mm": nail.pilot_high_mm',
        "test_cli.py::test_pilot_holes_in_json_each_at_its_end",
    ),
    Fault(
        "an ounce of 33.8 ml",
        "fitsim.quantities",
        "volume_ml / US_FLUID_OUNCE_ML",
        "volume_ml / 33.8",
        "test_cli.py::test_ounces_of_the_report_are_231_cubic_inches_to_the_gallon",
    ),
    Fault(
        "the tilt is dragged from the blade's lean, not from the scale",
        "fitsim.page.section_svg",
        "math.degrees(bowl.cut.scale_tilt_rad[0])",
        "math.degrees(bowl.cut.tilt_rad[0])",
        "test_page_answer.py",
    ),
    Fault(
        "the sheet orders a press beyond what splits",
        "fitsim.pattern.bench_sheet",
        "        if spoils:",
        "        if False:",
        "test_sheet_command.py",
    ),
    Fault(
        "leaning on the rim goes by stiff turns",
        "fitsim.bowl.fit",
        "collapse_N=None if elastic is None else elastic.collapse_N",
        "collapse_N=None",
        "test_beyond.py",
    ),
    Fault(
        "pounds of another force than the newtons shown",
        "fitsim.quantities",
        "upward(newtons / POUND_N, 10)",
        "upward(force_N / POUND_N, 10)",
        "test_quantities.py",
    ),
    # What is asked reaches the model, and what it answers reaches the maker
    Fault(
        "fit forgets what was learned",
        "fitsim.cli",
        "        bowl = with_learned(bowl, learned, units=units)\n    asked = FitRequest",
        "        pass\n    asked = FitRequest",
        "test_testcut_command.py test_workshop_command.py",
    ),
    Fault(
        "sheet forgets what was learned",
        "fitsim.cli",
        "        bowl = with_learned(bowl, learned, units=units)\n    shown = units",
        "        pass\n    shown = units",
        "test_sheet_command.py",
    ),
    Fault(
        "the sheet rests on the closed form",
        "fitsim.commands.sheet",
        "answer = closed if asked.rigid else fit(bowl, progress=progress)",
        "answer = closed",
        "test_sheet_command.py",
    ),
    Fault(
        "the JSON's worst end is the best",
        "fitsim.report.answer_json",
        '"worst": finite_or_none(m.worst),',
        '"worst": finite_or_none(m.best),',
        "test_fit.py test_cli.py test_elastic_answer.py",
    ),
    Fault(
        "the page takes the best end for both",
        "fitsim.page.answers",
        "failed = margin.at_worst + margin.at_best",
        "failed = margin.at_best + margin.at_best",
        "test_page_answer.py test_page_state.py",
    ),
    Fault(
        "the page's verdict is the best one",
        "fitsim.page.answers",
        '"state": verdict.state,',
        '"state": verdict.state_at_best,',
        "test_page_answer.py test_page_state.py",
    ),
    Fault(
        "a bad axis of the map is put on the bowl's field",
        "fitsim.page.jobs",
        "beside.get(p.key, p.key)",
        "p.key",
        "test_page_server.py::test_what_is_wrong_with_a_map_stands_at_its_axis",
    ),
    Fault(
        "what cannot be read passes as what does not fit",
        "fitsim.page.answers",
        "if not _can_be_read(state, p.key)",
        "if _can_be_read(state, p.key)",
        "test_page_server.py::test_a_refused_value_says_what_it_was_taken_for",
    ),
    Fault(
        "a press in pounds is told in pounds again",
        "fitsim.page.answers",
        'unit = "lbf" if units == "in" else "N"',
        'unit = "N" if units == "in" else "lbf"',
        "test_page_server.py::test_a_value_reads_in_the_units_chosen",
    ),
    Fault(
        "a kerf in inches for millimetres is blamed on the pitch",
        "fitsim.bowlfile.contradictions",
        "max(cut.kerf) <= DOUBTED_KERF_MM",
        "max(cut.kerf) >= DOUBTED_KERF_MM",
        "test_page_server.py::test_a_refused_value_says_what_it_was_taken_for",
    ),
    Fault(
        "a slot that no blade cuts is taken where the pitch is wider still",
        "fitsim.bowlfile.contradictions",
        "elif widest > GREATEST_KERF_MM:",
        "elif widest < GREATEST_KERF_MM:",
        "test_bowlfile.py",
    ),
    Fault(
        "a smaller base is offered where none gives the strip its turn",
        "fitsim.bowlfile.contradictions",
        "if pitch <= _widest_pitch_mm(_widest_span_mm(written, pitch), slot):",
        "if pitch > 0:",
        "test_bowlfile.py::test_remedies_for_too_short_a_strip_lead_somewhere",
    ),
    Fault(
        "a closed folder is noticed after the work",
        "fitsim.files",
        "if not os.access(path.parent, os.W_OK | os.X_OK):",
        "if not os.access(path.parent, os.R_OK):",
        "test_files.py::test_a_closed_folder_is_noticed_before_any_work",
    ),
    Fault(
        "the window that a notebook names is kept",
        "fitsim.commands.command_group",
        'os.environ["MPLBACKEND"] = "agg"',
        'os.environ.setdefault("MPLBACKEND", "agg")',
        "test_output_streams.py::test_a_picture_is_drawn_whatever_window_is_named",
    ),
    Fault(
        "a hidden character is looked for one place too far on",
        "fitsim.toml_files",
        "[column - 1 : column]",
        "[column : column + 1]",
        "test_bowlfile.py::test_a_character_that_nobody_sees_is_named",
    ),
    Fault(
        "a refused reading loses its sign",
        "fitsim.quantities",
        "sign = -1 if plain",
        "sign = 1 if plain",
        "test_quantities.py::test_a_reading_may_lie_below_nothing",
    ),
    Fault(
        "what decides is read where a turn dropped out deepest",
        "fitsim.bowl.ranges",
        "corner = max(happening, key=depth)",
        "corner = max(happening, key=badness)",
        "test_verdict.py",
    ),
    Fault(
        "a kerf that decides is told without being tried",
        "fitsim.bowl.ranges",
        "return _value_tried(tried, corner, i, found, by)",
        "return _Flip(found)",
        "test_verdict.py",
    ),
    Fault(
        "a state between two others is told for certain",
        "fitsim.bowl.ranges",
        "if math.isfinite(at.until) and at.state_between != ends[0]:",
        "if False:",
        "test_verdict.py",
    ),
    Fault(
        "the peg page counts the start from the grain the wrong way",
        "fitsim.drawing.bench_drawing",
        "begin_rad = start_rad if counter_clockwise else -start_rad",
        "begin_rad = -start_rad if counter_clockwise else start_rad",
        "test_bench_sheet.py::test_the_string_starts_where_the_pattern_does",
    ),
    Fault(
        "the page forgets what was learned",
        "fitsim.page.open_page",
        "            learned=learned,\n",
        "",
        "test_page_command.py::test_the_page_opens_with_what_was_learned",
    ),
    Fault(
        "the press at which a sample falls through, its last term turned",
        "fitsim.failure.bowl_emulator",
        "p * (square + p * cubic)",
        "p * (square - p * cubic)",
        "test_bowl_emulator.py",
    ),
    Fault(
        "the year on the page takes its room silently",
        "fitsim.report.seasons_in_words",
        "for a in (*answer.assumptions, *told):",
        "for a in told:",
        "test_page_server.py::test_the_year_takes_the_room_from_the_bowl_and_the_weather_from_a_file",
    ),
    Fault(
        "the others of a failed bowl are all of its causes",
        "fitsim.report.failure_in_words",
        "count = len(answer.every) - len(answer.told)",
        "count = len(answer.every)",
        "test_page_server.py::test_a_failed_bowl_is_explained_as_by_the_command",
    ),
    Fault(
        "a change that wants more press shows none",
        "fitsim.report.press_tables",
        "share_beside(n.press_asked, 1.0)",
        "share_beside(n.kept, 1.0)",
        "test_page_answer.py::test_a_change_that_springs_back_for_want_of_press_shows_it",
    ),
    Fault(
        "a bowl left open: friction used as when it was opened",
        "fitsim.seasons.left_open",
        "last_used=_most_used(now)",
        "last_used=_most_used(first)",
        "test_left_open.py",
    ),
    Fault(
        "a bowl left open stands where fit says it falls through",
        "fitsim.seasons.left_open",
        "or state not in _STAYS_OPEN:",
        "or state == SPRINGS_BACK:",
        "test_left_open.py::test_what_fit_says_of_the_opening_decides_whether_it_stands",
    ),
    Fault(
        "a bowl left open bears as when it was opened",
        "fitsim.seasons.left_open",
        "if not _overlap(found.standing) >=",
        "if not _overlap(first) >=",
        "test_left_open.py::test_it_falls_through_once_too_little_bears_as_it_stands",
    ),
    Fault(
        "a turn first comes loose in the order of the calendar",
        "fitsim.report.seasons_in_words",
        "key=lambda week: int(since[week])",
        "key=lambda week: int(week)",
        "test_seasons_command.py::test_the_week_a_turn_first_comes_loose_is_counted_from_the_opening",
    ),
    Fault(
        "a press to be given where too little bears",
        "fitsim.pattern.bench_sheet",
        "if answer.verdict.state_in_middle == FALLS_THROUGH:",
        "if answer.verdict.state_in_middle == LOCKS:",
        "test_bench_sheet.py::test_a_press_that_holds_is_not_to_be_given_where_too_little_bears",
    ),
    Fault(
        "a bowl lost far from slipping is about to spring back",
        "fitsim.report.seasons_in_words",
        "if held.last_used >= NEARLY_ALL_USED:",
        "if held.last_used < NEARLY_ALL_USED:",
        "test_seasons_command.py::test_a_bowl_lost_near_slipping_is_told_to_be_so",
    ),
    Fault(
        "a season kept flat is kept open",
        "fitsim.commands.seasons",
        "Asked(stored=asked.stored, ",
        "Asked(",
        "test_seasons_command.py",
    ),
    Fault(
        "a scatter of the sawn bowls cut to a third",
        "fitsim.tolerances.samples",
        "columns.append(d.middle + d.size * ndtri(u))",
        "columns.append(d.middle + d.size / 3 * ndtri(u))",
        "test_samples.py",
    ),
    Fault(
        "an even scatter cut to a third",
        "fitsim.tolerances.samples",
        "math.sqrt(3.0) * d.size * (2 * u - 1)",
        "math.sqrt(3.0) / 3 * d.size * (2 * u - 1)",
        "test_samples.py",
    ),
    Fault(
        "sawn again and again at one tilt",
        "fitsim.tolerances.samples",
        "t + errors.get(TILT, 0.0) for t in cut.tilt_rad",
        "t for t in cut.tilt_rad",
        "test_samples.py",
    ),
    Fault(
        "points are refined, splines are not",
        "fitsim.strip.load_step",
        "usual = round(SPLINES_PER_POINT * bowl.nodes_per_turn)",
        "usual = 12",
        "test_splitting_trends.py",
    ),
    Fault(
        "a press that holds by luck is the press needed",
        "fitsim.bowl.elastic",
        "MOST_ISLANDS = 3",
        "MOST_ISLANDS = 1",
        "test_elastic_answer.py::test_a_gentle_press_that_holds_by_luck_is_not_the_press_needed",
    ),
    Fault(
        "a bowl that slipped away has a height at rest",
        "fitsim.bowl.elastic",
        "if released is None or not released.rise_left_mm > 0:",
        "if released is None:",
        "test_elastic_answer.py::test_a_bowl_that_slips_is_told_no_height_at_rest",
    ),
    Fault(
        "the best tilt is set where the bowl does not lock",
        "fitsim.tilt.best_tilt",
        "[set_rad for set_rad in at if span.holds(set_rad)]",
        "at",
        "test_tilt.py::test_the_best_tilt_is_one_that_can_be_set",
    ),
    Fault(
        "seasons of another outline: laid out more finely each time",
        "fitsim.bowl.strip_layout",
        "return _laid_out(bowl, rigid, before.nodes_per_turn)",
        "return laid_out(bowl, rigid, before.nodes_per_turn)",
        "test_outlined_bowls.py::test_a_bowl_whose_turns_are_not_circles_has_seasons",
    ),
    Fault(
        "an off-cut that held contradicts none that slid",
        "fitsim.saw.slide_test",
        "agreement(values, sds, at_least=[s.held for s in tests.slides])",
        "agreement(values[:0], sds[:0])",
        "test_sliding.py",
    ),
    Fault(
        "an off-cut that held is taken to have slid there",
        "fitsim.saw.slide_test",
        "agreement(values, sds, at_least=[s.held for s in tests.slides])",
        "agreement(values, sds)",
        "test_sliding.py",
    ),
    Fault(
        "readings of one meter are averaged unseen",
        "fitsim.saw.oven_test",
        "parts = agreement(values, sds), agreement(shown, shown_sds)",
        "parts = agreement(values, sds), agreement([], [])",
        "test_ovendry.py",
    ),
    Fault(
        "the line to type next forgets what was learned",
        "fitsim.cli",
        "learned_files=tuple(click.get_current_context().meta.get(LEARNED_FILES, ())),",
        "learned_files=(),",
        "test_explain_command.py::test_the_report_and_the_picture",
    ),
    Fault(
        "explain is silent on tests that were left out",
        "fitsim.report.failure_report",
        "*said.warnings, *answer.bowl.notes)",
        "*said.warnings)",
        "test_explain_command.py",
    ),
    Fault(
        "a saw's note in the units of the file",
        "fitsim.saw.kerf_and_scale",
        "_note(saw, scale, units or bowl.units)",
        "_note(saw, scale, bowl.units)",
        "test_learned.py test_workshop_command.py",
    ),
    Fault(
        "the sheet is silent on tests that were left out",
        "fitsim.pattern.bench_sheet",
        "model, *left_out_notes(answer.bowl))",
        "model)",
        "test_bench_sheet.py",
    ),
    Fault(
        "the sheet tells the scale as the true tilt",
        "fitsim.pattern.bench_sheet",
        "for v in (cut.scale_tilt_rad, cut.tilt_rad))",
        "for v in (cut.scale_tilt_rad, cut.scale_tilt_rad))",
        "test_bench_sheet.py",
    ),
    Fault(
        "seasons grants nothing that was measured",
        "fitsim.report.seasons_in_words",
        'if a.key in ours or a.mark == "measured")',
        "if a.key in ours)",
        "test_seasons_command.py::test_what_tests_taught_is_told_to_the_figures_that_are_known",
    ),
    Fault(
        "a dry board is told to dry",
        "fitsim.report.seasons_in_words",
        "if sawn_percent > saw.moisture_percent:",
        "if sawn_percent < saw.moisture_percent:",
        "test_seasons_command.py::test_a_board_is_told_to_dry_or_to_take_up_water_by_the_side_on_which_it_lies",
    ),
    Fault(
        "the quick end of an assumed feed takes longest",
        "fitsim.report.common_words",
        "for end in (assumed.high, assumed.low)",
        "for end in (assumed.low, assumed.high)",
        "test_sheet_command.py::test_length_and_time_of_the_cut_are_told_alike_and_an_assumed_feed_as_assumed",
    ),
    Fault(
        "every file of tests is told in millimetres",
        "fitsim.saw.tests_file",
        'return "mm" if written.endswith(("mm", "cm", "m")) else "in"',
        'return "mm"',
        "test_testsfile.py test_testcut_command.py",
    ),
    Fault(
        "a remedy asks for more press than there is",
        "fitsim.failure.remedies",
        'read_only(np.minimum(tiled["hands_N"], there_is_N))',
        'read_only(tiled["hands_N"] + 0 * there_is_N)',
        "test_explain.py test_explain_command.py",
    ),
    Fault(
        "pressed too hard: harder than two hands",
        "fitsim.failure.predict",
        "leaning = np.maximum(samples.hands_N, REACH_N)",
        "leaning = np.maximum(samples.hands_N, 10 * REACH_N)",
        "test_predict.py",
    ),
    Fault(
        "the sheet of a bowl not to be sawn has steps for the bench",
        "fitsim.pattern.bench_sheet",
        "(_forbidden_blocks if forbidden else _bench_blocks)",
        "(_bench_blocks)",
        "test_bench_sheet.py",
    ),
    Fault(
        "the sheet: what least friction does under its press",
        "fitsim.pattern.table_setting",
        "return judge(numbers, least.limits)",
        "return LOCKS",
        "test_bench_sheet.py",
    ),
    Fault(
        "the sheet: a press that may split is no harm",
        "fitsim.pattern.table_setting",
        "not found.chance_at_press * not_known < HARMLESS_CHANCE",
        "found.chance_at_press > 1",
        "test_bench_sheet.py",
    ),
    Fault(
        "tilts: what cannot be followed at its own friction's press is not asked again",
        "fitsim.tilt.lock_chance",
        "    if found is None:\n        return _pressed_numbers(bowl, roughly=False)\n",
        "    if found is None:\n        return None\n",
        "test_chance.py::test_a_bowl_that_its_own_friction_cannot_follow_is_judged_whole",
    ),
    Fault(
        'a reading that says "at least" and lies below counts for nothing',
        "fitsim.saw.posterior",
        "float(pulls.sum() - 1 + in_part.sum())",
        "float(pulls.sum() - 1)",
        "test_posterior.py::test_right_readings_are_seldom_refused",
    ),
    Fault(
        "tilts: what no press makes hold is told by its own friction alone",
        "fitsim.tilt.lock_chance",
        "if slips or never else found",
        "if slips else found",
        "test_chance.py",
    ),
    Fault(
        "pounds of the rounded newtons",
        "fitsim.quantities",
        "rounded(force_N / POUND_N)",
        "rounded(float(rounded(force_N)) / POUND_N)",
        "test_quantities.py::test_pounds_that_were_typed_are_read_back",
    ),
    Fault(
        "a negative direction is told to leave its minus out",
        "fitsim.quantities",
        "if dimension is DIRECTION:",
        "if dimension is ANGLE:",
        "test_quantities.py::test_a_direction_below_nothing_is_told_as_the_one_it_is",
    ),
    Fault(
        "the first of two percents is a plain number",
        "fitsim.quantities",
        "    if re.fullmatch(_NUMBER, _plain(first)):",
        '    if "" not in dimension.units and re.fullmatch(_NUMBER, _plain(first)):',
        "test_quantities.py::test_percent_stand_for_both_ends_of_a_range",
    ),
    Fault(
        "too few turns ask for a smaller base",
        "fitsim.bowlfile.contradictions",
        "        if by_turns:  # a smaller base",
        "        if not by_turns:  # a smaller base",
        "test_bowlfile.py::test_too_few_turns_are_told_how_many_would_do",
    ),
    Fault(
        "a stop waits for what is being worked on",
        "fitsim.processes",
        "process.terminate()",
        "process.is_alive()",
        "test_processes.py::test_a_stop_ends_what_is_being_worked_on",
    ),
    Fault(
        "a comma is always a decimal's",
        "fitsim.quantities",
        'if "," in whole:',
        'if "," in plain:',
        "test_quantities.py::test_slips_of_the_pen",
    ),
    Fault(
        "a number is shown to six figures whatever was written",
        "fitsim.quantities",
        "_MOST_FIGURES = 10",
        "_MOST_FIGURES = 6",
        "test_bowlfile.py::test_what_lies_just_beyond_a_bound_does_not_read_as_the_bound",
    ),
    Fault(
        "a limit of the slot may be wider than the kerf",
        "fitsim.bowlfile.contradictions",
        'limits.slot_left, (0.0, most), "mm"',
        'limits.slot_left, (0.0, 99 * most), "mm"',
        "test_bowlfile.py::test_no_limit_of_the_slot_is_wider_than_the_kerf",
    ),
    Fault(
        "a moisture that the file has is cut off where scatter ends",
        "fitsim.failure.sample_seats",
        "np.maximum(turns, WETTEST_PERCENT)",
        "np.minimum(turns, WETTEST_PERCENT)",
        "test_explain_moisture.py::test_a_moisture_beyond_what_scatter_comes_to_is_kept_as_the_file_has_it",
    ),
    Fault(
        "the rim of a failed bowl is its last turn, however short",
        "fitsim.failure.failed_samples",
        "share * last + (1 - share) * before",
        "last + 0 * before",
        "test_explain_moisture.py::test_turns_are_as_wet_as_the_file_lists_them",
    ),
    Fault(
        "readings alike beyond a limit seem to disagree",
        "fitsim.saw.test_cuts",
        "kerf_low_mm=0.0, kerf_high_mm=math.inf",
        "kerf_low_mm=before.kerf_low_mm, kerf_high_mm=before.kerf_high_mm",
        "test_saw.py::test_readings_that_agree_beyond_a_limit_are_not_said_to_disagree",
    ),
    Fault(
        "where ranges count a map's limits are those of the bowl's own range",
        "fitsim.sweeps.lock_map",
        "kept = at if at_worst else {}",
        "kept = dict[str, str]()",
        "test_map.py::test_where_ranges_count_limits_are_those_of_the_map",
    ),
    Fault(
        "a bowl that its range makes another has limits on the map",
        "fitsim.sweeps.lock_map",
        "if here and ranged and states_at",
        "if here and not ranged and states_at",
        "test_map.py::test_where_ranges_count_limits_are_those_of_the_map",
    ),
    Fault(
        "a long sentence of the verdict is cut off at the sheet's head",
        "fitsim.drawing.bench_drawing",
        "f\"\\u2026 {' '.join(words[fits - 1 :])}\"",
        "f\"\\u2026 {' '.join(words[fits + 5 :])}\"",
        "test_bench_sheet.py::test_of_a_long_sentence_the_head_has_what_goes_in",
    ),
    Fault(
        "a process that still loads hears a stop",
        "fitsim.processes",
        "self.begun.append(DeafProcess(",
        "self.begun.append(SpawnProcess(",
        "test_processes.py::test_a_stop_while_others_start_ends_without_a_word_of_theirs",
    ),
    Fault(
        "a press is told without the friction that asks for it",
        "fitsim.bowl.judgement",
        "press_at_friction=opening.judged.friction",
        "press_at_friction=bowl.use.friction",
        "test_elastic_answer.py::"
        "test_what_the_middle_of_the_frictions_asks_is_looked_for_only_where_it_can_matter",
    ),
    Fault(
        "a slot under its limit alone is said to rub",
        "fitsim.report.why",
        "asked if worst.slot_left_mm > 0 else",
        "asked if worst.slot_left_mm > 99 else",
        "test_elastic_answer.py::test_a_slot_under_its_limit_alone_is_not_said_to_rub",
    ),
    Fault(
        "a pitch under the slot is offered",
        "fitsim.bowlfile.contradictions",
        "remedies = [finer] if finest > narrowest else []",
        "remedies = [finer] if finest > 0 else []",
        "test_bowlfile.py::test_a_remedy_is_one_that_can_be_sawn",
    ),
    Fault(
        "a blade called 3 mm is refused",
        "fitsim.geometry.blade",
        "BLADE_RANGE_mm = (2.9, 31.8)",
        "BLADE_RANGE_mm = (3.1, 31.8)",
        "test_blade.py test_bowlfile.py::test_a_blade_called_3_mm_is_an_eighth_of_an_inch",
    ),
    Fault(
        "the height under the hand is told as that at rest",
        "fitsim.report.answer_json",
        "answer.elastic is not None and not answer.standing.let_go",
        "answer.elastic is not None and answer.standing.let_go",
        "test_elastic_answer.py::test_a_bowl_that_slips_is_told_no_height_at_rest",
    ),
    Fault(
        "every reading is in the unit of the first",
        "fitsim.report.failure_json",
        '"unit": measure_named(m.key).unit}',
        '"unit": measure_named("kerf").unit}',
        "test_explain_command.py::test_every_reading_has_its_unit_beside_it",
    ),
    Fault(
        "a sweep does not name its file",
        "fitsim.commands.sweep_and_map",
        "where=file_name(files[0]) if files else",
        'where="" if files else',
        "test_sweep.py::test_a_slip_in_the_bowl_file_is_told_with_its_name",
    ),
    Fault(
        "of two turns of one thing seen the last counts",
        "fitsim.failure.observations",
        '        once(found.turn, "turn")\n',
        "",
        "test_explain_command.py::test_bad_input_is_one_line_and_status_2",
    ),
    Fault(
        "a map has friction used at rest under the name of the other",
        "fitsim.sweeps.lock_map",
        "if found.used_at_rest else {}",
        "if not found.used_at_rest else {}",
        "test_map.py::test_friction_used_has_its_name_only_where_it_is_lowered",
    ),
    Fault(
        "a map's press has no range",
        "fitsim.sweeps.lock_map",
        '"use.press": "use.press_N",\n',
        "",
        "test_map.py::test_every_number_of_a_bowl_has_its_place_on_an_axis",
    ),
    Fault(
        "a bowl without a place lies off the map",
        "fitsim.commands.sweep_and_map",
        "if found.own_across is None or found.own_up is None:",
        "if found.own_across is None and found.own_up is None and not seen and False:",
        "test_map.py::test_a_bowl_without_a_place_is_not_said_to_lie_off_the_map",
    ),
    Fault(
        "one cut that meets a wish is plenty",
        "fitsim.plan.planning",
        "many = len(unlike_bowls(good)) >= SHOWN_CUTS",
        "many = bool(good)",
        "test_plan_order.py::test_cuts_are_pressed_until_four_meet_and_none_thought_likelier_is_left",
    ),
    Fault(
        "cuts like those pressed before are pressed again",
        "fitsim.plan.planning",
        "unlike_cuts(task, near, PRESSED_CUTS, besides=pressed)",
        "unlike_cuts(task, near, PRESSED_CUTS)",
        "test_plan_order.py::test_cuts_are_pressed_until_four_meet_and_none_thought_likelier_is_left",
    ),
    Fault(
        "limits of a map's own bowl are those of its lines",
        "fitsim.sweeps.lock_map",
        "reach = _closed_in(states_at, axes, reach, here, own_state, Fraction(1, steps))",
        "_closed_in(states_at, axes, reach, here, own_state, Fraction(1, steps))",
        "test_map.py::test_however_coarse_a_map_its_bowl_s_own_limits_are_pressed_for",
    ),
    Fault(
        "what a map holds is told in millimetres to a reader of inches",
        "fitsim.drawing.map_drawing",
        """{show_small(value / 25.4)} in" if units == "in" else""",
        """{show_small(value / 25.4)} in" if units == "furlong" else""",
        "test_map_drawing.py::test_what_was_held_is_in_the_reader_s_units",
    ),
    Fault(
        "all friction used is too much in a drawing",
        "fitsim.drawing.bowl_drawing",
        'SPRINGS_BACK: "at most"}',
        "}",
        "test_drawing.py::test_a_bowl_that_lets_go_is_not_drawn_as_using_no_friction",
    ),
    Fault(
        "none is told of the rise where it holds",
        "fitsim.page.answers",
        "or rise == NO_RISE else",
        "else",
        "test_page_answer.py::test_a_bowl_that_springs_back_as_judged_is_not_said_to_hold_nowhere",
    ),
    Fault(
        "a bowl left open is moved as if it lay flat",
        "fitsim.seasons.year",
        "stays_open = parts_after_move(bowl, open_lags,",
        "stays_open = parts_after_move(bowl, lags,",
        "test_seasons_command.py::test_a_bowl_left_open_is_moved_as_it_stands_however_others_are_kept",
    ),
    Fault(
        "JSON gives a bowl left open the moistures of one that lay flat",
        "fitsim.report.seasons_json",
        "**_moistures(moved.stood_parts, i)",
        "**_moistures(parts, i)",
        "test_seasons_command.py::test_a_bowl_left_open_is_moved_as_it_stands_however_others_are_kept",
    ),
    Fault(
        "the table gives a bowl left open the moistures of one that lay flat",
        "fitsim.report.seasons_in_words",
        "*_moist_cells(moved.stood_parts, i)",
        "*_moist_cells(moved.parts, i)",
        "test_seasons_command.py::test_a_bowl_left_open_is_moved_as_it_stands_however_others_are_kept",
    ),
    Fault(
        "many good readings may stray no farther than one",
        "fitsim.failure.explanations",
        "readings = max(len(matchers[0].observed.measured), 1)",
        "readings = 1",
        "test_explain_conflict.py",
    ),
    Fault(
        "one reading far off hides among many good ones",
        "fitsim.failure.explanations",
        "self.odd_size > self.odd_limit or",
        "self.odd_size > 4 * self.odd_limit or",
        "test_explain_conflict.py",
    ),
    Fault(
        "what was seen wrongly counts as one slip in a hundred where nothing may slip",
        "fitsim.failure.matching",
        "_seen_logs(observed, now, first, wrongly=HARDLY_WRONGLY)",
        "_seen_logs(observed, now, first)",
        "test_explain_conflict.py",
    ),
    Fault(
        "an uneven kerf leaves the drops as certain as an even one",
        "fitsim.failure.predict",
        "WANDER_SINKS * samples.wander_mm",
        "0 * samples.wander_mm",
        "test_kerf_wander_predicted.py",
    ),
    Fault(
        "the JSON of a failed bowl keeps its warnings to itself",
        "fitsim.report.failure_json",
        '"warnings": list(said.warnings),',
        '"warnings": [],',
        "test_explain_command.py::test_the_json_says_what_the_report_warns_of",
    ),
    Fault(
        "explain forgets which turn the file has drier",
        "fitsim.failure.sample_seats",
        "np.clip(turns + moved,",
        "np.clip(turns[:, -1:] + moved,",
        "test_explain_moisture.py",
    ),
    Fault(
        "a dry rim is laid over the turns the wrong way",
        "fitsim.failure.sample_seats",
        "rim[:, None] + (base - rim)[:, None]",
        "rim[:, None] + (rim - base)[:, None]",
        "test_explain_moisture.py",
    ),
    Fault(
        "at its first opening a bowl is as wet as its file lists it",
        "fitsim.failure.explanations",
        "rim_percent=sawn, meant_percent=meant)",
        "rim_percent=sawn)",
        "test_explain_moisture.py",
    ),
    Fault(
        "one meter reads rim and base with an error of each",
        "fitsim.failure.matching",
        "share = (shared_sd / other_sd) ** 2",
        "share = 0 * (shared_sd / other_sd) ** 2",
        "test_explain_moisture.py",
    ),
    Fault(
        "the coarser of two moisture readings shares all its error",
        "fitsim.failure.matching",
        "min(reading.sd for reading in readings)",
        "max(reading.sd for reading in readings)",
        "test_explain_moisture.py",
    ),
    Fault(
        "what a meter's first reading told is expected the other way",
        "fitsim.failure.next_measurement",
        "readings[other] + more",
        "readings[other] - more",
        "test_explain_moisture.py",
    ),
    Fault(
        "the error of a meter lies in the difference of its readings",
        "fitsim.failure.next_measurement",
        "sd[0] ** 2 + shared_sd**2, sd[0] ** 2 - shared_sd**2",
        "sd[0] ** 2 - shared_sd**2, sd[0] ** 2 + shared_sd**2",
        "test_explain_moisture.py",
    ),
    Fault(
        "the drop of a last stub is taken and asked for",
        "fitsim.failure.failed_samples",
        "self.share[-1] < STUB",
        "self.share[-1] < 0",
        "test_seen.py",
    ),
    # Plans, stores and outlines
    Fault(
        "plans: least likely to lock first",
        "fitsim.plan.lock_order",
        "return (-round(chance, 2)",
        "return (round(chance, 2)",
        "test_plan_order.py",
    ),
    Fault(
        "plans: the more twisted of two cuts comes first",
        "fitsim.plan.lock_order",
        "apt = math.log(max(_twisted(closed), 1e-9))",
        "apt = -math.log(max(_twisted(closed), 1e-9))",
        "test_plan_order.py",
    ),
    Fault(
        "plans: equals are called the best",
        "fitsim.plan.lock_order",
        "if of(first) < of(second):",
        "if of(first) <= of(second):",
        "test_plan_order.py::test_a_quality_is_named_only_where_the_table_tells_it_apart",
    ),
    Fault(
        "plans: what was given is told as assumed",
        "fitsim.plan.in_the_way",
        "left_out = any(a.key == key",
        "left_out = not any(a.key == key",
        "test_plan.py::test_what_stands_in_the_way_by_a_number_left_out_is_told_as_assumed",
    ),
    Fault(
        "plans: a board is sawn for a hair",
        "fitsim.plan.wishes_on_board",
        "if 0 < spare < NEARLY_WHOLE_mm and",
        "if 0 > spare > NEARLY_WHOLE_mm and",
        "test_plan.py::test_a_board_is_not_sawn_for_a_hair_s_breadth",
    ),
    Fault(
        "the wall of fit runs from the base to the rim",
        "fitsim.bowl.standing",
        "wall_slope_rad=math.atan(slope_of_wall(rigid, elastic, state)),",
        "wall_slope_rad=math.atan(rim.mean_mm / _wide_mm(rigid)),",
        "test_plan.py::test_the_plan_measures_the_bowl_that_fit_shows",
    ),
    Fault(
        "half degrees are tried where turns sink least alone",
        "fitsim.pattern.table_setting",
        "deepest.append((u.path, deeper))",
        "deepest.append((u.path, other))",
        "test_sheet_command.py::test_a_half_degree_is_tried_where_the_kerf_is_worst",
    ),
    Fault(
        "half degrees are pressed everywhere as in the middle",
        "fitsim.pattern.table_setting",
        "        return None\n    return open_bowl(bowl, lowering",
        "        return None\n    bowl = answer.bowl\n    return open_bowl(bowl, lowering",
        "test_sheet_command.py::test_half_degrees_are_pressed_at_the_ends_at_which_the_bowl_was_judged",
    ),
    Fault(
        "of two half degrees that with less room is set",
        "fitsim.pattern.table_setting",
        "                -s.room,",
        "                s.room,",
        "test_sheet_command.py::test_of_two_half_degrees_as_near_the_one_with_more_room_is_set",
    ),
    Fault(
        "a half degree towards the danger is set",
        "fitsim.pattern.table_setting",
        "return here == (FALLS_THROUGH if steeper else SPRINGS_BACK)",
        "return here == (SPRINGS_BACK if steeper else FALLS_THROUGH)",
        "test_sheet_command.py::test_no_half_degree_is_set_that_is_worse_than_what_is_planned",
    ),
    Fault(
        "a half degree is set whatever press it asks for",
        "fitsim.pattern.table_setting",
        "short_N = asked_N if asked_N > there_N else 0.0",
        "short_N = 0.0",
        "test_bench_sheet.py::test_a_half_degree_that_asks_for_more_press_than_there_may_be_is_not_set",
    ),
    Fault(
        "what is left to a limit of nothing is divided by it",
        "fitsim.pattern.table_setting",
        "if whole > 0 else -math.inf",
        "if whole >= 0 else -math.inf",
        "test_sheet_command.py::test_a_limit_that_no_bowl_keeps_leaves_no_room",
    ),
    Fault(
        "a bevel gauge is set to what the scale reads",
        "fitsim.pattern.bench_sheet",
        'return f"{math.degrees(cut.tilt_rad[0]):.2f} deg between',
        'return f"{math.degrees(cut.scale_tilt_rad[0]):.2f} deg between',
        "test_bench_sheet.py::test_a_bevel_gauge_is_set_to_what_lies_between_table_and_blade",
    ),
    Fault(
        "a half degree short of press passes for a cure",
        "fitsim.pattern.table_setting",
        "short = [SPRINGS_BACK] if self.short_of_N else []",
        "short = []",
        "test_sheet_command.py::test_a_nearer_half_degree_that_is_short_of_press_is_passed_over",
    ),
    Fault(
        "every page of the pattern tells of the hole at its stop",
        "fitsim.drawing.pattern_drawing",
        "at_stop = (words.at_stop,) if _shows_hole(line, tiling, tile, words.hole_mm) else ()",
        "at_stop = (words.at_stop,)",
        "test_pattern_pages.py::test_only_the_page_with_the_stop_says_to_drill",
    ),
    Fault(
        "the bowl from above is the pattern's mirror image",
        "fitsim.drawing.unrolled_strip",
        "AS_SAWN = np.array([1.0, -1.0 if Handling().middle_right else 1.0])",
        "AS_SAWN = np.array([1.0, 1.0 if Handling().middle_right else -1.0])",
        "test_strip_drawing.py::test_the_bowl_from_above_lies_as_its_pattern_does",
    ),
    Fault(
        "the words of a wall far out run off the page",
        "fitsim.drawing.bowl_drawing",
        "start = min(foot, sheet.axes.get_xlim()[1] - width_mm_of(words, 8.5) * mm)",
        "start = foot",
        "test_drawing.py::test_no_label_touches_another_or_leaves_the_page",
    ),
    Fault(
        "two presses near each other change names in the strip picture",
        "fitsim.drawing.strip_drawing",
        "below=near and needed > available",
        "below=False",
        "test_strip_drawing.py::test_each_press_is_named_at_its_own_line",
    ),
    Fault(
        "the mark of the worst place stands on the word of its turn",
        "fitsim.drawing.unrolled_strip",
        'axes.plot([worst], [-0.9], marker="^"',
        'axes.plot([worst], [height + 1.1], marker="v"',
        "test_strip_drawing.py::test_no_word_stands_on_the_mark_of_the_worst_place",
    ),
    Fault(
        "lines to the marks cross out the base",
        "fitsim.drawing.strip_drawing",
        "shapely.contains(base, boxes) & ~shapely.intersects(lines, boxes)",
        "shapely.contains(base, boxes)",
        "test_strip_drawing.py::test_no_line_crosses_out_the_word_in_the_base",
    ),
    Fault(
        "a long title runs off the page of the fit picture",
        "fitsim.drawing.bowl_drawing",
        'if width_mm_of(title, 10, "bold") > room:',
        "if False:",
        "test_drawing.py::test_what_the_open_drawing_shows_stays_within_its_half",
    ),
    Fault(
        "a section along the grain is told as across it",
        "fitsim.drawing.bowl_drawing",
        "abs(math.cos(polar_rad)) > abs(math.sin(polar_rad))",
        "abs(math.cos(polar_rad)) < abs(math.sin(polar_rad))",
        "test_outlined_sheet.py::test_the_picture_says_which_way_its_section_lies",
    ),
    Fault(
        "a name is cut short without a word",
        "fitsim.drawing.paper",
        "    if len(rows) <= most:\n        return rows\n",
        "    if rows:\n        return rows[:most]\n",
        "test_drawing.py::test_a_name_cut_short_is_told_on_the_bench_sheet",
    ),
    Fault(
        "a board that fits on a lying page is cut off on an upright one",
        "fitsim.pattern.layout",
        "(len(tiling.tiles), not _shows_board(line, tiling))",
        "len(tiling.tiles)",
        "test_layout.py::test_a_board_that_fits_on_one_page_is_shown_whole",
    ),
    Fault(
        "words at the seams stand on the line",
        "fitsim.drawing.pattern_drawing",
        'clear[shapely.STRtree(drawn).query(boxes, predicate="intersects")[0]] = False',
        "clear[:] = False",
        "test_pattern_pages.py::test_words_at_the_seams_touch_nothing",
    ),
    Fault(
        "a bowl let go is drawn as pressed on the bench sheet",
        "fitsim.pattern.bench_sheet",
        "    if answer.standing.let_go:\n        title",
        "    if False:\n        title",
        "test_outlined_sheet.py::test_the_section_says_whether_the_bowl_is_still_pressed",
    ),
    Fault(
        "the rise of a state in space is rounded before it is told",
        "fitsim.page.space",
        '"rise_mm": float(mean_rise_mm(elastic, state)),',
        '"rise_mm": round(float(mean_rise_mm(elastic, state)), 3),',
        "test_page_server.py::test_the_opened_bowl_in_space_is_the_opening",
    ),
    Fault(
        "the shorter way in begins in the wood",
        "fitsim.pattern.layout",
        "(way + CLEAR_OF_EDGE_mm)",
        "(way - CLEAR_OF_EDGE_mm)",
        "test_pattern_pages.py::test_the_shorter_way_in_begins_outside_the_board",
    ),
    Fault(
        "bars are left to chance between pages",
        "fitsim.pattern.layout",
        "CENTRE_mm * ways, bars, *about",
        "CENTRE_mm * ways, *about",
        "test_pattern_pages.py::test_every_bar_stands_whole_on_a_page",
    ),
    Fault(
        "the string starts beside the board",
        "fitsim.commands.sheet",
        "start_radius_mm=math.hypot(*line.start_mm)",
        "start_radius_mm=bowl.board.across_mm / 2 + line.outside_mm",
        "test_bench_sheet.py::test_the_string_starts_where_the_pattern_does",
    ),
    Fault(
        "outlines: a strip that runs back on itself passes",
        "fitsim.geometry.cut",
        "_check_it_runs_on(slot.winding, swept, along)",
        "slot.winding.support_mm(swept)",
        "test_outline.py",
    ),
    Fault(
        "the hand formula poses as a verdict",
        "fitsim.report.verdict_words",
        "answer.elastic is None and not told &",
        "answer.elastic is None and told &",
        "test_cli.py",
    ),
    Fault(
        "plans: a wish buys a strip of less than a turn",
        "fitsim.plan.geometric_cuts",
        "TURNS_WEIGH = 5000.0",
        "TURNS_WEIGH = 200.0",
        "test_plan_order.py",
    ),
    Fault(
        "plans: the wall got ends in a part turn",
        "fitsim.plan.pressed_wall",
        "self.turn_height_mm[self.whole], self.got.rise_mm",
        "self.turn_height_mm[self.whole], self.turn_height_mm[-1]",
        "test_plan.py",
    ),
    Fault(
        "plans: a square's free end as a round board's",
        "fitsim.plan.cut_of_wall",
        "setting.beyond_mm is None and not setting.square",
        "setting.beyond_mm is None",
        "test_plan_outlines.py",
    ),
    Fault(
        "plans: a wall along the length as if it lay across",
        "fitsim.plan.pressed_wall",
        "radius = base + outward_mm(rigid, elastic, state) + aside",
        "radius = base + outward_mm(rigid, elastic, state)",
        "test_plan_outlines.py",
    ),
    Fault(
        "outlines: a turn that the section misses counts as tried",
        "fitsim.rigidbody.check",
        "range(len(self.seats.seat_drop_mm), self.turns)",
        "range(self.turns, self.turns)",
        "test_settle_outlines.py::test_a_last_turn_that_the_section_misses_is_told_and_not_tried",
    ),
    Fault(
        "outlines: base and mouth told across the grain where they are drawn along it",
        "fitsim.bowl.cross_section",
        "if abs(math.sin(polar)) < _ASIDE:",
        "if abs(math.cos(polar)) < _ASIDE:",
        "test_outlined_sheet.py",
    ),
    Fault(
        "strips: a scale's error is a share of a load near nothing",
        "fitsim.saw.break_test",
        "s.load_sd_N * min(1.0, s.load_N / usual)",
        "s.load_sd_N * 1.0",
        "test_breaking.py::test_strips_far_off_are_refused_however_far_on_both_sides",
    ),
    Fault(
        "an answer is lost where the code page lacks a sign",
        "fitsim.commands.command_group",
        "        prepare_output()\n        return super()",
        "        return super()",
        "test_output_streams.py::test_every_answer_arrives_in_a_narrow_code_page",
    ),
    Fault(
        "outlines: all turns of one pitch",
        "fitsim.geometry.wound_slot",
        "    if not pitch_shape:\n        whole",
        "    if True:\n        whole",
        "test_varying_pitch.py",
    ),
    Fault(
        "a store goes by a drawing's name",
        "fitsim.sweeps.run_rows",
        'if key != "board.outline" or not',
        "if True or not",
        "test_store.py",
    ),
    Fault(
        "rigid bodies: both halves of a section alike",
        "fitsim.rigidbody.engine",
        "(sections, sections.left or sections))\n    if ring",
        "(sections, sections))\n    if ring",
        "test_settle_outlines.py",
    ),
    # The page's scripts, where there is a browser to run them
    Fault(
        "the last bowl's verdict does not look old",
        "page.js",
        "const key = verdictKey(), old = shownFor !== key,",
        "const key = verdictKey(), old = false,",
        "test_page_browser.py::test_the_verdict_is_the_strips_and_old_while_a_control_moves",
    ),
    Fault(
        "an answer on the page never grows old",
        "page.js",
        'this.result.classList.toggle("stale", old);',
        'this.result.classList.toggle("stale", false);',
        "test_page_browser.py::test_answers_grow_old_by_what_they_read_alone",
    ),
    Fault(
        "work on the page goes on for a bowl that is gone",
        "page.js",
        "if (this.control && moved(this.asked))",
        "if (false)",
        "test_page_browser.py::test_long_work_goes_on_while_what_it_reads_stays",
    ),
    Fault(
        "every change takes the place of the one before",
        "page.js",
        "trail.splice(++step, Infinity,",
        "trail.splice(step, Infinity,",
        "test_page_browser.py::test_undo_redo_and_the_browsers_back_restore",
    ),
    Fault(
        "a bare number on the page keeps no unit",
        "page.js",
        "if (whole) { field.input.value = whole;",
        "if (whole) {",
        "test_page_browser.py::test_a_bare_number_takes_the_fields_unit",
    ),
    Fault(
        "of a list on the page the values that had their unit are lost",
        "fitsim.page.state",
        "        values.setdefault(key, []).append(value)\n        if value != written:\n",
        "        if value != written:\n            values.setdefault(key, []).append(value)\n",
        "test_page_state.py::test_of_a_list_every_value_is_told",
    ),
    Fault(
        "what a text was taken for is learned for what stands there by now",
        "page.js",
        "learnWholes(asked, found.typed)",
        "learnWholes(pairs(), found.typed)",
        "test_page_browser.py::test_an_answer_that_comes_late_completes_nothing_else",
    ),
    Fault(
        "a bowl is set beside with another one's verdict",
        "page.js",
        "set.disabled = Boolean(unreadWords) || wholeFor !== key || lastSpace === null || late;",
        "set.disabled = lastSpace === null;",
        "test_page_browser.py::test_only_a_bowl_with_its_own_verdict_is_set_beside",
    ),
    Fault(
        "other units make another bowl of it",
        "page.js",
        'if (key === same && key !== "units" && value !== was',
        "if (false && value !== was",
        "test_page_browser.py::test_long_work_goes_on_while_what_it_reads_stays",
    ),
    Fault(
        "a verdict stopped before its ends says nothing",
        "page.js",
        "; the ends were not tried`",
        "`",
        "test_page_browser.py::test_a_verdict_given_up_before_its_ends_is_taken_up_again",
    ),
    Fault(
        "a file of what was learned opened with another one is added to it",
        "page.js",
        "carried = [...carried.filter((pair) => !isLearned(pair)), ...found.pairs];",
        "carried = [...carried, ...found.pairs];",
        "test_page_browser.py::test_files_are_known_by_what_they_hold",
    ),
    Fault(
        "the bowl on the map is dragged upside down",
        "places.js",
        "(1 - (event.clientY - box.top) / box.height - bottom) / high",
        "((event.clientY - box.top) / box.height - bottom) / high",
        "test_page_browser.py::test_your_bowl_is_dragged_on_the_map",
    ),
    Fault(
        "the mark on the map is put back by the rounding of its own steps",
        "places.js",
        "fields.get(axis.key)?.input.value !== number(axis, at[i])",
        "true",
        "test_page_browser.py::test_steps_less_than_a_mark_on_the_rule_add_up",
    ),
    Fault(
        "the year on the page is worked out without its weather file",
        "places.js",
        "extra: yearWords, body: () => weather,",
        "extra: yearWords,",
        "test_page_browser.py::test_the_year_with_a_dropped_in_weather_file",
    ),
    Fault(
        "what was typed of a failed bowl and not added is left out",
        "places.js",
        'job("failed", { before: takeFindings,',
        'job("failed", {',
        "test_page_browser.py::test_what_was_typed_and_not_added_counts",
    ),
    Fault(
        "a bare reading in inches is one in mm",
        "places.js",
        'return unit === "mm" ? units : unit;',
        "return unit;",
        "test_page_browser.py::test_a_bare_reading_has_the_unit_beside_it",
    ),
    Fault(
        "the tilts are old once another tilt is set",
        "places.js",
        'keyOf(bowlPairs().filter(([key]) => key !== "cut.tilt"))',
        "keyOf(bowlPairs())",
        "test_page_browser.py::test_answers_grow_old_by_what_they_read_alone",
    ),
    Fault(
        "the bowl in space is as large from above as it is aslant",
        "bowl.js",
        "Math.max(room(FIRST_LIFT), room(Math.abs(this.lift)))",
        "room(FIRST_LIFT)",
        "test_page_browser.py::test_the_bowl_lies_within_its_canvas_with_the_one_before",
    ),
    Fault(
        "the line to a mark runs through the word of another",
        "bowl.js",
        " && !words.some((word) => crosses(line, word))",
        "",
        "test_page_browser.py::test_no_mark_s_line_runs_through_another_s_word",
    ),
    Fault(
        "the bowl in space is the pattern's mirror image",
        "bowl.js",
        "(i % 3 === 1 ? -v : v)",
        "v",
        "test_page_browser.py::test_the_bowl_in_space_winds_as_the_usual_pattern_does",
    ),
    Fault(
        "the bowl in space shows the faces that are turned away",
        "bowl.js",
        "if (area(quad) <= 0) continue;",
        "if (area(quad) >= 0) continue;",
        "test_page_browser.py::test_the_bowl_in_space_winds_as_the_usual_pattern_does",
    ),
    Fault(
        "the slider runs backwards between two states",
        "bowl.js",
        "return [i - 1, i, (at - knots[i - 1]) / (knots[i] - knots[i - 1])];",
        "return [i - 1, i, (knots[i] - at) / (knots[i] - knots[i - 1])];",
        "test_page_browser.py::test_the_slider_goes_along_the_calculated_path",
    ),
)


def path_of(module: str, root: Path = ROOT) -> Path:
    """File of a module, or of a script of the page, below a folder."""
    if module.endswith(".js"):
        return root / "fitsim" / "data" / "page" / module
    return root.joinpath(*module.split(".")).with_suffix(".py")


def missing(fault: Fault) -> str:
    """Why a fault cannot be put in: its module is gone or its place is not there once; "" if it can."""
    path = path_of(fault.module)
    if not path.is_file():
        return "no such module"
    count = path.read_text("utf8").count(fault.right)
    return "" if count == 1 else f"its place is there {count} times"


def outcome(fault: Fault, copy: Path) -> str:
    """Put one fault into a copy of the package and run its tests there; "noticed" if one fails."""
    path = path_of(fault.module, copy)
    sound = path.read_text("utf8")
    path.write_text(sound.replace(fault.right, fault.wrong), "utf8")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "--no-header", "-o", "testpaths=tests"]
    command += [f"tests/{name}" for name in fault.tests.split()]
    one_thread = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    here = {**os.environ, **one_thread, "PYTHONPATH": str(copy)}
    try:
        run = subprocess.run(
            command, cwd=copy, env=here, capture_output=True, text=True, timeout=MOST_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return f"SURVIVES for {MOST_SECONDS} s"
    finally:
        path.write_text(sound, "utf8")
    if not re.search(r"\b\d+ (passed|failed|errors?)\b", run.stdout) and "skipped" in run.stdout:
        return "NOT TRIED, its tests are left out here (those of the scripts want a browser):"
    # pytest leaves with 1 as well where it cannot even begin.
    if run.returncode != 0 and not re.search(r"\b\d+ (failed|errors?)\b", run.stdout):
        return f"NOT TRIED, {(run.stdout + run.stderr).strip().splitlines()[-1:]}:"
    return "SURVIVES" if run.returncode == 0 else "noticed"


def copied(folder: Path) -> Path:
    """Copy the package, its tests and its studies into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("fitsim", "tests", "studies"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, folder / name)
    return folder


def tried(words: Sequence[str], processes: int) -> int:
    """Try the faults named by the words, or all, so many at once; the number that survived."""
    chosen = [f for f in FAULTS if not words or any(w in f.name or w in f.module for w in words)]
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(processes) as pool:
        copies: Queue[Path] = Queue()
        for number in range(processes):
            copies.put(copied(Path(folder) / str(number)))

        def try_one(fault: Fault) -> bool:
            gone = missing(fault)
            copy = copies.get()
            told = f"NOT TRIED, {gone}:" if gone else outcome(fault, copy)
            copies.put(copy)
            print(f"{told:<10} {fault.name} ({fault.module})", flush=True)
            return told != "noticed"

        left = sum(pool.map(try_one, chosen))
    print(f"{len(chosen) - left} of {len(chosen)} noticed")
    return left


def check() -> int:
    """Say which faults have lost their place; their number."""
    lost = [(fault, gone) for fault in FAULTS if (gone := missing(fault))]
    for fault, gone in lost:
        print(f"{fault.name} ({fault.module}): {gone}")
    print(f"{len(FAULTS) - len(lost)} of {len(FAULTS)} places are there")
    return len(lost)


def main() -> None:
    """Try faults, or only look for their places."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("words", nargs="*", help="parts of names or modules of the faults to try (all)")
    parser.add_argument("--processes", type=int, default=1, help="faults tried at once (1)")
    parser.add_argument("--check", action="store_true", help="only look for their places")
    asked = parser.parse_args()
    sys.exit(bool(check() if asked.check else tried(asked.words, asked.processes)))


if __name__ == "__main__":
    main()
