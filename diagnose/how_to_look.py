"""How to look for what a question asks, in three steps that a newcomer can follow."""

from __future__ import annotations

from diagnose.language import listed, tr
from diagnose.records import Finding, Knowledge, Tool

LOOKED_AT = ("sign", "check")
"""Roles of findings that are looked at; the others are asked or remembered."""


def steps_for(knowledge: Knowledge, id: str) -> tuple[str, str, str]:
    """What to take and where to stand; what to do; what it looks like, and what not.

    Args:
        knowledge: what the tool knows.
        id: the finding that is asked, or the tool.
    """
    finding = knowledge.findings.get(id)
    if finding is None:
        return _for_tool(knowledge.tools[id])
    return finding.steps or _made(knowledge, finding)


def cautions_for(knowledge: Knowledge, id: str) -> list[str]:
    """The dangers of that look, by their ids."""
    finding = knowledge.findings.get(id)
    return finding.cautions if finding is not None else []


def _made(knowledge: Knowledge, finding: Finding) -> tuple[str, str, str]:
    """The steps of a finding for which none are written."""
    tools = listed(knowledge.tools[tool].name for tool in finding.needs)
    if tools:
        take = tr("Take: {tools}.", tools=tools)
    elif finding.role in LOOKED_AT:
        take = tr("Take: nothing but your eyes and hands.")
    else:
        take = tr("Take: nothing. Think back, or ask whoever was there.")
    return take, finding.how, finding.not_this


def _for_tool(tool: Tool) -> tuple[str, str, str]:
    instead = tool.instead or tr("nothing")
    return (
        tr("Look for this in the shop: {name}.", name=tool.name),
        tr("In its place you can take: {instead}.", instead=instead),
        tr("If it is here, answer y; if not, n, and nothing that needs it is asked."),
    )
