"""The page at the bench: a server on this machine, its workers, and what it shows as plain objects.

An address that holds a whole bowl goes in; objects for the page come out. The server keeps nothing and
writes no file; what takes long runs in a process that can be ended at once.
"""

__all__ = ["MODULES"]

MODULES = (
    "page_words",
    "state",
    "section_svg",
    "space",
    "answers",
    "year",
    "failed_bowl",
    "tilt",
    "plan",
    "workshop_tests",
    "ring_trial",
    "jobs",
    "workers",
    "server",
    "open_page",
)
"""In reading order: each imports only those before it."""
