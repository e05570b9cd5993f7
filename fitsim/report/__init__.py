"""Answers as sentences, tables and JSON; no bowl is pressed and nothing drawn here.

Results of the physics go in; text for a maker and objects for other programs come out. The cautions
stand in ``common_words``, the words of a verdict in ``verdict_words`` and its reason in ``why``; every
command, sheet and page uses them.
"""

__all__ = ["MODULES"]

MODULES = (
    "common_words",
    "verdict_words",
    "press_words",
    "advised_test",
    "why",
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
    "failure_in_words",
    "failure_json",
    "failure_report",
)
"""In reading order: each imports only those before it."""
