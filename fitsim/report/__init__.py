"""Answers as sentences, tables and JSON; no bowl is pressed and nothing drawn here.

Results of the physics go in; text for a maker and objects for other programs come out. The words of a
verdict and the cautions stand in ``wording`` and are used by every command, sheet and page.
"""

__all__ = ["MODULES"]

MODULES = (
    "wording",
    "answer_json",
    "plan_json",
    "press_tables",
    "terminal",
    "plan_report",
    "saw_report",
    "learned_report",
    "tilt_report",
    "seasons_in_words",
    "seasons_report",
    "seasons_json",
    "failure_json",
    "failure_in_words",
    "failure_report",
)
"""In reading order: each imports only those before it."""
