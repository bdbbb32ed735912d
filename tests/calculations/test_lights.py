"""The list of lights agrees with the published spectra that it was worked out from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from test_safelight import NM, spectrum

from diagnose.calculations import safelight

FILE = Path(__file__).parent.parent.parent / "knowledge" / "lights.yaml"
LIGHTS: list[dict[str, Any]] = yaml.safe_load(FILE.read_text("utf-8"))


@pytest.mark.parametrize("light", LIGHTS, ids=lambda light: light["id"])
def test_a_light_is_as_blue_as_its_spectrum(light: dict[str, Any]) -> None:
    """CIE spectra of colour-science 0.4.7 (2024), to the three figures listed."""
    powers = spectrum(light["spectrum"])
    if "cut" in light:
        behind = safelight.behind_filter(NM, powers, light["cut"], light["width"])
        leak = light["leak"]
        powers = [a + leak * b for a, b in zip(behind, powers, strict=True)]
    found = {
        "below_450": safelight.share_below(NM, powers, 450),
        "below_500": safelight.share_below(NM, powers, 500),
        "efficacy": safelight.luminous_efficacy(NM, powers),
        "blue_light": safelight.blue_per_lumen(NM, powers, 450),
    }
    for name, value in found.items():
        # three figures; the tiniest blue is rounded to a millionth
        assert light[name] == pytest.approx(value, rel=0.005, abs=5e-7), name
