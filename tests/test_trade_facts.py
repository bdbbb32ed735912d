"""Facts of the trade, each as a consultation or a rule with the result it must have.

All of them are common practice: what a screen maker is taught in the first weeks.
"""

from __future__ import annotations

import pytest

from diagnose import Consultation
from diagnose.records import Knowledge


def consult(built_in: Knowledge, **answers: str) -> Consultation:
    """A consultation with these answers (ids with underscores for hyphens)."""
    consultation = Consultation(built_in)
    for finding, value in answers.items():
        consultation.answer(finding.replace("_", "-"), value)
    return consultation


def chances(consultation: Consultation) -> dict[str, float]:
    """The chance of each cause on the table."""
    return {cause: chance for cause, _, chance in consultation.chances()}


def first(consultation: Consultation) -> str:
    """The likeliest cause."""
    return consultation.chances()[0][0]


def state(consultation: Consultation, state: str) -> float:
    """The chance of a state."""
    return consultation.look.close.state(state)


def fix_text(built_in: Knowledge, cause: str) -> str:
    """All that the fixes for a cause say, in one text."""
    return " ".join(
        f"{fix.name} {fix.how} {fix.why}"
        for fix in built_in.fixes.values()
        if any(cure.cause == cause for cure in fix.cures)
    ).lower()


def test_a_single_coat_is_never_enough(built_in: Knowledge) -> None:
    """common practice: one coat never is; one or two on each side is usual."""
    one = consult(built_in, edges_sawtooth="yes", coats_put_on="one")
    usual = consult(built_in, edges_sawtooth="yes", coats_put_on="usual")
    assert first(one) == "coats-too-few"
    assert chances(one)["coats-too-few"] > 0.75
    assert chances(usual)["coats-too-few"] < 0.3
    remake = one.plan().parts["remake"]
    assert "coats-too-few" in remake[0].causes


def test_two_coats_with_the_sharp_edge_are_about_one_with_the_round(
    built_in: Knowledge,
) -> None:
    """common practice: the usual number of coats, but sharp, leaves a thin stencil."""
    sharp = consult(
        built_in,
        edges_sawtooth="yes",
        print_side_feels_woven="yes",
        coats_put_on="usual",
        trough_edge_used="sharp",
    )
    assert first(sharp) == "coated-with-sharp-edge"
    links = built_in.causes["coated-with-sharp-edge"].makes
    assert any("two with the sharp edge" in link.because for link in links)


@pytest.mark.parametrize(("eom", "thin"), [("4 %", True), ("18 %", False)])
def test_about_a_tenth_has_to_stand_above_the_mesh(
    built_in: Knowledge, eom: str, thin: bool
) -> None:
    """common practice: with less than a tenth the mesh shapes the edge."""
    measured = consult(built_in, edges_sawtooth="yes", eom=eom)
    assert measured.look.known["eom-low"].value == ("yes" if thin else "no")
    assert (state(measured, "stencil-thin") > 0.9) is thin
    assert (state(measured, "stencil-thin") < 0.2) is not thin


def test_a_reading_at_the_limit_says_little(built_in: Knowledge) -> None:
    """common practice: nobody throws a screen out over 9 ± 3 % against 10 %."""
    before = consult(built_in, edges_sawtooth="yes")
    at_limit = consult(built_in, edges_sawtooth="yes", eom="9 ± 3 %")
    clear = consult(built_in, edges_sawtooth="yes", eom="3 ± 0.5 %")
    moved = abs(state(at_limit, "stencil-thin") - state(before, "stencil-thin"))
    assert moved < abs(state(clear, "stencil-thin") - state(before, "stencil-thin")) / 2


def test_a_coat_is_added_before_exposure_only(built_in: Knowledge) -> None:
    """common practice: at the press it is too late for another coat."""
    thin = consult(built_in, edges_sawtooth="yes", print_side_feels_woven="yes")

    def save_run() -> set[str]:
        return {one.fix.id for one in thin.plan().parts["save-run"]}

    assert "face-coat-before-exposure" not in save_run()  # it shows in a print
    thin.at_stage("drying")
    assert "face-coat-before-exposure" in save_run()
    thin.at_stage("press")
    assert "face-coat-before-exposure" not in save_run()
    assert "print-with-less-ink" in save_run()


def test_with_a_thin_stencil_edges_go_sawtooth(built_in: Knowledge) -> None:
    """common practice: the print side follows the weave and the edge follows it."""
    woven = consult(built_in, edges_sawtooth="yes", print_side_feels_woven="yes")
    assert state(woven, "print-side-rough") > 0.8
    assert state(woven, "stencil-thin") > 0.6


def test_a_watery_coat_that_looks_full_dries_thin(built_in: Knowledge) -> None:
    """common practice: what looks full when wet is mostly water that leaves."""
    watery = consult(
        built_in,
        edges_sawtooth="yes",
        coats_put_on="usual",
        trough_edge_used="round",
        emulsion_runny="yes",
    )
    assert first(watery) == "emulsion-watery"
    makes = {link.state for link in built_in.causes["emulsion-watery"].makes}
    assert "stencil-thin" in makes


def test_slack_mesh_takes_more_in_the_middle_and_exposes_unevenly(
    built_in: Knowledge,
) -> None:
    """common practice: it bellies under the trough, shows marks, exposes unevenly."""
    slack = consult(built_in, coat_colour_uneven="yes", mesh_gives_to_finger="yes")
    assert state(slack, "mesh-slack") > 0.7
    assert state(slack, "coating-uneven") > 0.7
    assert state(slack, "exposure-uneven") > 0.5
    assert first(slack) in ("mesh-lost-tension", "wooden-frame-gives")


def test_wooden_frames_lose_their_tension(built_in: Knowledge) -> None:
    """common practice: after a few uses; a metal frame does not take up water."""
    wood = consult(built_in, mesh_gives_to_finger="yes", frame_kind="wood")
    metal = consult(built_in, mesh_gives_to_finger="yes", frame_kind="aluminium")
    assert first(wood) == "wooden-frame-gives"
    assert "wooden-frame-gives" not in chances(metal)
    assert "wooden-frame-gives" in {out.cause for out in metal.ranking().ruled_out}


def test_each_mesh_has_its_own_recommended_tension(built_in: Knowledge) -> None:
    """common practice: the mesh maker's sheet gives it; the question says so."""
    finding = built_in.findings["tension"]
    assert "maker" in f"{finding.question} {finding.how} {finding.not_this}".lower()


def test_a_stop_mid_stroke_leaves_a_line_and_a_band_in_the_print(
    built_in: Knowledge,
) -> None:
    """common practice: other thickness there, so other exposure and other deposit."""
    stopped = consult(built_in, band_in_coating="yes", stop_remembered="yes")
    assert first(stopped) == "stopped-mid-coat"
    printed = consult(built_in, band_in_print="yes", stop_remembered="yes")
    assert first(printed) == "stopped-mid-coat"
    line = built_in.states["coating-line"]
    assert "exposure-uneven" in {link.state for link in line.makes}
    assert "band-in-print" in {link.finding for link in line.shows}


def test_a_change_of_speed_or_pressure_leaves_a_band(built_in: Knowledge) -> None:
    """common practice: as a stop does, only softer."""
    unsteady = consult(built_in, band_in_coating="yes", coating_hand_unsteady="yes")
    assert first(unsteady) == "speed-or-pressure-changed"


def test_a_nick_that_a_finger_feels_lays_down_an_uneven_coat(
    built_in: Knowledge,
) -> None:
    """common practice: replace the trough (or its edge) and keep the edge covered."""
    nicked = consult(built_in, streaks_along_coat="yes", nick_felt="yes")
    assert first(nicked) == "trough-edge-nicked"
    text = fix_text(built_in, "trough-edge-nicked")
    assert "replace" in text or "new trough" in text
    assert "cover" in text or "guard" in text


def test_screens_dry_with_the_squeegee_side_up(built_in: Knowledge) -> None:
    """common practice: so the emulsion levels on the print side; the other way up it
    ends on the squeegee side, where the squeegee wears it off."""
    wrong = consult(built_in, edges_sawtooth="yes", dried_side_up="print-side-up")
    right = consult(built_in, edges_sawtooth="yes", dried_side_up="squeegee-side-up")
    assert first(wrong) == "dried-wrong-way-up"
    assert chances(right).get("dried-wrong-way-up", 0) < 0.1
    state_record = built_in.states["emulsion-on-squeegee-side"]
    assert "breaks-down-where-blade-runs" in {x.finding for x in state_record.shows}


@pytest.mark.parametrize(
    ("temperature", "hot"),
    [("35 °C", "no"), ("100 F", "no"), ("50 °C", "yes"), ("125 F", "yes")],
)
def test_drying_at_110_f_at_most(
    built_in: Knowledge, temperature: str, hot: str
) -> None:
    """common practice: about 43 °C (110 °F) is the most."""
    dried = consult(built_in, washout_slow="yes", drying_temperature=temperature)
    assert dried.look.known["cabinet-hot"].value == hot


def test_too_hot_drying_hardens_the_coat(built_in: Knowledge) -> None:
    """common practice: what was cooked in the cabinet does not wash out."""
    cooked = consult(built_in, image_will_not_open="yes", drying_temperature="55 °C")
    assert first(cooked) == "dried-too-hot"
    text = fix_text(built_in, "dried-too-hot")
    assert "dark" in text
    assert "out of the cabinet" in text or "take" in text


def test_one_white_bulb_or_daylight_fogs(built_in: Knowledge) -> None:
    """common practice: coated screens see yellow light only."""
    white = consult(built_in, image_will_not_open="yes", white_light_or_daylight="yes")
    assert first(white) == "white-light-in-room"
    assert state(white, "fogged") > 0.75


def test_yellow_light_may_be_bright_but_not_too_dim(built_in: Knowledge) -> None:
    """common practice: without ultraviolet it may be as bright as you like; too dim
    hides faults. No cause blames bright yellow light."""
    dim = consult(built_in, band_in_coating="yes", light_too_dim="yes")
    assert chances(dim)["room-too-dim"] > 0.2
    assert not any("too-bright" in cause for cause in built_in.causes)


def test_the_cautions_stand_with_what_can_hurt(built_in: Knowledge) -> None:
    """common practice: each danger names whose word is final."""
    for id in (
        "uv-lamp",
        "hot-dryer",
        "pressure-washer",
        "solvents",
        "reclaiming-chemicals",
        "wet-floor-and-mains",
        "waste-water",
    ):
        assert built_in.cautions[id].ask
    asks = " ".join(c.ask for c in built_in.cautions.values()).lower()
    for authority in ("safety data sheet", "electrician", "local"):
        assert authority in asks
