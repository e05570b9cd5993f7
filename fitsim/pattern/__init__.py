"""What goes to the saw, as plain data: the line to follow, its pages, peg and string, the bench sheet.

A fit and how the board lies on the table go in; curves in millimetres and short words come out. Nothing is
drawn here.
"""

__all__ = ["MODULES"]

MODULES = (
    "layout",
    "peg_and_string",
    "line_file",
    "table_setting",
    "bench_sheet",
)
"""In reading order: each imports only those before it."""
