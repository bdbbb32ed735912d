"""Which pictures of faults there are, and how each is drawn from its numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from diagnose.drawings.faults.scene import Panel

BUILDERS: dict[str, str] = {
    "sawtooth": "cloth.sawtooth",
    "section": "cloth.section",
    "scum": "cloth.scum",
    "bubbles": "cloth.bubbles",
    "mesh-marks": "cloth.mesh_marks",
    "moire": "cloth.moire",
    "broken-thread": "cloth.broken_thread",
    "voids": "cloth.voids",
    "bleed": "prints.bleed",
    "thicker": "prints.thicker",
    "closed": "prints.closed",
    "washed": "prints.washed",
    "peeled": "prints.peeled",
    "doubled": "prints.doubled",
    "smeared": "prints.smeared",
    "mirrored": "prints.mirrored",
    "ghost": "prints.ghost",
    "misregister": "prints.misregister",
    "growing": "prints.growing",
    "specks": "prints.specks",
    "spots": "prints.spots",
    "lint": "prints.lint",
    "cobwebs": "prints.cobwebs",
    "fading": "prints.fading",
    "uneven": "prints.uneven",
    "band": "prints.band",
    "stop-line": "screens.stop_line",
    "streaks": "screens.streaks",
    "uneven-coat": "screens.uneven_coat",
    "drips": "screens.drips",
    "fisheyes": "screens.fisheyes",
    "pinholes": "screens.pinholes",
    "tension-map": "screens.tension_map",
    "corner-weak": "screens.corner_weak",
    "undercut": "screens.undercut_section",
    "soft-middle": "screens.soft_middle",
    "off-contact": "screens.off_contact",
}
"""For each picture the module and the function that draw it, as a record names it."""


def drawn(picture: str, numbers: Mapping[str, float]) -> Panel:
    """The picture with these numbers.

    Raises:
        CalculationError: no mesh, stencil or light can be so.
    """
    module, function = BUILDERS[picture].split(".")
    home = import_module(f"diagnose.drawings.faults.{module}")
    build = cast("Callable[[Mapping[str, float]], Panel]", getattr(home, function))
    return build(numbers)
