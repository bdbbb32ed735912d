"""A picture of what readings came to: of characters for a terminal, or as SVG."""

from __future__ import annotations

from diagnose.drawings.characters import lines_of
from diagnose.drawings.pictures import pictures_of
from diagnose.errors import AnswerError
from diagnose.records import Knowledge
from diagnose.screens import WIDTH
from diagnose.workings import Worked


def text_of(
    worked: Worked, knowledge: Knowledge, *, width: int = WIDTH, plain: bool = False
) -> list[str]:
    """The picture as lines of characters, none wider; [] where there is none to draw.

    Args:
        worked: what a working came to.
        knowledge: whose windows are drawn.
        width: in characters; in fewer than `characters.LEAST` nothing is drawn.
        plain: with ASCII characters alone.
    """
    return lines_of(pictures_of(worked, knowledge), width, plain)


def svg_of(worked: Worked, knowledge: Knowledge) -> str:
    """The picture as an SVG that needs nothing else, with what it shows in words.

    Raises:
        AnswerError: there is nothing to draw of it.
    """
    pictures = pictures_of(worked, knowledge)
    if not pictures:
        raise AnswerError(
            f"{worked.working.id!r} can't be drawn: it has no picture of its own, and "
            "none of its results has a window."
        )
    from diagnose.drawings.svg import sheet_of

    return sheet_of(worked, pictures)
