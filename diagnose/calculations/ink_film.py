"""Wet and dry film: what is left of an ink or an emulsion when it has dried."""

from __future__ import annotations

from diagnose.calculations.limits import above_zero, within
from diagnose.errors import CalculationError


def dry_film(wet_film: float, volume_solids: float, thinner: float) -> float:
    """Dry film, in the unit of the wet film (µm).

    Volume solids, of the ink as it comes, in %; thinner in % of the ink's volume.

    Raises CalculationError unless the film is above 0, the solids above 0 and up to
    100 %, and the thinner 0 or more. Formula: DFT = WFT VS / (1 + R) (Wet and dry film
    thickness formulae, with reducer and coverage, n.d.).
    """
    above_zero("A wet film", wet_film, "µm")
    return wet_film * _solid_share(volume_solids, thinner)


def wet_film(dry_film: float, volume_solids: float, thinner: float) -> float:
    """Wet film that dries down to a dry film, in the unit of the dry film (µm).

    Volume solids, of the ink as it comes, in %; thinner in % of the ink's volume.

    Raises CalculationError as `dry_film`. Formula: WFT = DFT (1 + R) / VS (Wet and dry
    film thickness formulae, with reducer and coverage, n.d.).
    """
    above_zero("A dry film", dry_film, "µm")
    return dry_film / _solid_share(volume_solids, thinner)


def solids_from_films(dry_film: float, wet_film: float) -> float:
    """Volume solids, in %, from a dry film and the wet film it came from, both in µm.

    Raises CalculationError unless 0 < dry film ≤ wet film. Formula: VS = DFT / WFT
    (Wet and dry film thickness formulae, worked example, n.d.).
    """
    above_zero("A dry film", dry_film, "µm")
    if not dry_film <= wet_film:
        raise CalculationError(
            f"A film that was {wet_film:.4g} µm wet can't dry to {dry_film:.4g} µm; "
            "a film gets thinner as it dries."
        )
    return 100 * dry_film / wet_film


def volume_solids(
    weight_solids: float, wet_density: float, thinner_density: float
) -> float:
    """Volume solids, in %, from weight solids in % and densities in g/cm³.

    `wet_density` is that of the whole ink or emulsion, `thinner_density` that of what
    dries out of it (water: 1.0).

    Raises CalculationError unless 0 < weight solids ≤ 100 and both densities are above
    0, or where what dries out would be more than the whole. Formula:
    1 - (1 - SW) ρ wet / ρ thinner (Percent of volume solids, 2010).
    """
    above_zero("The share of solids by weight", weight_solids, "%")
    within(weight_solids, 0, 100, "The share of solids by weight", "%")
    above_zero("The density of the wet ink", wet_density, "g/cm³")
    above_zero("The density of the thinner", thinner_density, "g/cm³")
    dries_out = (1 - weight_solids / 100) * wet_density / thinner_density
    if dries_out >= 1:
        raise CalculationError(
            f"With {weight_solids:.4g} % solids by weight and these densities more "
            "would dry out than there is; check the two densities."
        )
    return 100 * (1 - dries_out)


def solids_density(
    weight_solids: float, wet_density: float, volume_solids: float
) -> float:
    """Density of the dry film, in g/cm³: weight of the solids over their volume.

    Solids by weight and by volume in %, density of the whole in g/cm³.

    Raises CalculationError unless all are above 0 and the solids at most 100 %.
    Formula: SW ρ / SV (Calculating the density of coating solids, 2006).
    """
    for what, share in (("weight", weight_solids), ("volume", volume_solids)):
        above_zero(f"The share of solids by {what}", share, "%")
        within(share, 0, 100, f"The share of solids by {what}", "%")
    above_zero("The density of the wet ink", wet_density, "g/cm³")
    return weight_solids * wet_density / volume_solids


def coverage(wet_film: float) -> float:
    """Area, in m², that a litre covers with a wet film in µm.

    Raises CalculationError unless the film is above 0. Formula: 1000 / WFT (Wet and dry
    film thickness formulae, with reducer and coverage, n.d.).
    """
    above_zero("A wet film", wet_film, "µm")
    return 1000 / wet_film


def film_from_ink_used(
    ink_used: float,
    density: float,
    prints: float,
    width: float,
    height: float,
    cover: float,
) -> float:
    """Mean wet film, in µm, from the weight of ink that a number of prints took.

    Ink in g, its density in g/cm³, width and height of the image in cm, and `cover`,
    the share of that rectangle that prints, in %.

    Raises CalculationError unless all are above 0 and the cover at most 100 %. Formula:
    volume over area, 1 cm³ over 1 m² being 1 µm (geometry).
    """
    above_zero("The ink used", ink_used, "g")
    above_zero("The density of the ink", density, "g/cm³")
    above_zero("The number of prints", prints)
    above_zero("The width of the image", width, "cm")
    above_zero("The height of the image", height, "cm")
    above_zero("The share that prints", cover, "%")
    within(cover, 0, 100, "The share that prints", "%")
    square_metres = prints * width * height * cover / 100 / 10000
    return ink_used / density / square_metres


def _solid_share(volume_solids: float, thinner: float) -> float:
    """What is left of a wet film: a share from 0 to 1."""
    above_zero("The share of volume solids", volume_solids, "%")
    within(volume_solids, 0, 100, "The share of volume solids", "%")
    within(thinner, 0, 1000, "Thinner", "%")
    return volume_solids / 100 / (1 + thinner / 100)
