"""Cuts for what is wanted of the bowl, as the page tells them.

The sentences are those of ``fitsim plan`` (:mod:`fitsim.report.plan_report`).
"""

from typing import Any

from fitsim.commands.plan import planned_tables, wished_bowl
from fitsim.drawing.plan_drawing import plan_figure
from fitsim.page.answers import table_object, units_of
from fitsim.page.page_words import on_page
from fitsim.page.state import PageState, learned_of, pairs_of_tables, refuse_files
from fitsim.page.year import Progress, svg_of
from fitsim.plan.planning import plan
from fitsim.processes import worker_count, worker_pool
from fitsim.report.common_words import CAUTIONS
from fitsim.report.plan_report import plan_in_words
from fitsim.saw.learned import with_learned

__all__ = ["want_object"]


def want_object(state: PageState, progress: Progress) -> dict[str, Any]:
    """Cuts that give what is wanted.

    Parameters
    ----------
    state : PageState
        The state; what is wanted stands in its table ``want``.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        "headline", "in_the_way", "answers" (each in words, and the bowl with that cut), "table", "how",
        "bounds", "cautions", and a picture of the first.

    Raises
    ------
    InputError
        One line for every problem, among them that nothing is wanted.
    """
    refuse_files(state.tables)
    bowl, wishes = wished_bowl(state.tables, {})
    learned = learned_of(state)
    if learned is not None:
        bowl = with_learned(bowl, learned)
    units = units_of(state, bowl)
    pool = worker_pool(min(worker_count(), 4))
    try:
        found = plan(bowl, wishes, executor=pool, progress=progress)
    finally:
        pool.shutdown(cancel_futures=True)
    said = plan_in_words(found, units=units)
    answers = [
        {
            "title": cut.title,
            "sentence": cut.sentence,
            "first": list(cut.first),
            "pairs": pairs_of_tables(planned_tables(state.tables, answer, bowl=bowl, units=units)),
        }
        for answer, cut in zip(found.answers, said.cuts, strict=True)
    ]
    return {
        "headline": said.headline,
        "in_the_way": [on_page(line) for line in said.in_the_way],
        "answers": answers,
        "svg": svg_of(plan_figure(found, units=units)) if answers else "",
        "table": table_object(said.table, "What is wanted, and what each cut gives") if answers else None,
        "how": [*said.pitches, on_page(said.how)],
        "bounds": list(said.bounds),
        "cautions": list(CAUTIONS),
    }
