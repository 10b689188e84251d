"""The parts of the search for lighter wings against hand calculation."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from simulated_search import SPEC, Formula, every_candidate, freedom_from

from wingpath.core.errors import InputError
from wingpath.io.profile_store import load_filament, load_printer, load_tube
from wingpath.lighten.changes_words import changes_words
from wingpath.lighten.correction import NUMBERS, correction_of
from wingpath.lighten.freedom import DRAWN, Freedom, freedom_of
from wingpath.lighten.judging import Judgement
from wingpath.lighten.measures import Measures, measures_from_dict
from wingpath.lighten.outcome import FARTHEST, bought_changes, bought_of, front_of, near_misses
from wingpath.lighten.searching import Searcher, SearchSettings
from wingpath.lighten.targets import Target, targets_of
from wingpath.model.spec import spec_from_dict

FILAMENT, PRINTER = load_filament("foaming-pla"), load_printer("bed-220")
ROUNDING = 1e-9

DRAWN_WING = Measures(
    mass_g=100.0,
    printed_mass_g=90.0,
    skin_g=50.0,
    ribs_g=35.0,
    webs_g=3.0,
    fittings_g=2.0,
    twist_deg_per_n_m=5.0,
    tip_mm=-20.0,
    first_buckling_g=7.0,
    torque_up_n_m=2.0,
    torque_down_n_m=1.8,
    divergence_m_s=100.0,
    strength_share=0.6,
    case_torque_n_m=0.3,
    warnings=("weak-aileron",),
)


def wing(**numbers: Any) -> Measures:
    return Measures(**{**DRAWN_WING.as_dict(), "first_place": None, **numbers})


def test_a_factor_that_is_the_same_everywhere_is_learned_whole() -> None:
    features = np.array([[0.0], [1.0], [-1.0], [0.5]])
    found = correction_of("twist_deg_per_n_m", features, [1.0, 2.0, 3.0, 4.0], [1.3, 2.6, 3.9, 5.2])
    # the prior pulls by noise over prior spread squared, 0.05^2 over 2^2, shared by four observations
    assert found.apply(10.0, np.array([0.0])).middle == pytest.approx(13.0, rel=2e-3)


def test_one_observation_gives_the_textbook_posterior() -> None:
    # one feature-less case: precision 1/s^2 + 1/p^2, mean y/s^2 over that
    noise, offset = NUMBERS["mass_g"][1], 2.0
    found = correction_of("mass_g", np.zeros((1, 0)), [100.0], [110.0])
    precision = 1.0 / noise**2 + 1.0 / offset**2
    assert found.mean[0] == pytest.approx(math.log(1.1) / noise**2 / precision)
    guess = found.apply(100.0, np.zeros(0))
    assert guess.spread == pytest.approx(math.sqrt(1.0 / precision + noise**2))
    assert guess.at(1.0) == pytest.approx(guess.middle * math.exp(guess.spread))


def test_what_was_never_changed_stays_as_unsure_as_before() -> None:
    features = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
    found = correction_of("buckling_torque_n_m", features, [1.0, 1.0, 1.0], [1.0, 1.2, 1.4])
    known, unknown = found.apply(1.0, np.array([1.0, 0.0])), found.apply(1.0, np.array([1.0, 1.0]))
    prior = NUMBERS["buckling_torque_n_m"][0]
    assert unknown.spread**2 - known.spread**2 == pytest.approx(prior**2, rel=1e-6)


def test_shares_of_targets() -> None:
    assert Target("a", "", "", "most", 30.0, "").share(-36.0) == pytest.approx(1.2)
    assert Target("a", "", "", "least", 6.0, "").share(4.0) == pytest.approx(1.5)
    assert Target("a", "", "", "least", 6.0, "").share(0.0) == math.inf


def test_targets_follow_from_the_aircraft_where_the_spec_is_silent() -> None:
    spec = spec_from_dict({**SPEC, "targets": {}})
    found = {target.key: target.value for target in targets_of(spec, DRAWN_WING).targets}
    assert found == pytest.approx(
        {
            "tip_deflection_mm": 45.0,  # a tenth of 450 mm
            "divergence_m_s": 30.0,  # 1.2 x 25 m/s
            "first_buckling_load_factor": 6.0,
            "buckling_torque_n_m": 0.75,  # 5 N x 150 mm of chord, over 0.3 N m in flight
            "strength": 1.0,
        }
    )
    torn = targets_of(spec, wing(case_torque_n_m=1.1))
    assert {t.key: t.value for t in torn.targets}["buckling_torque_n_m"] == pytest.approx(1.1)


def test_what_the_spec_gives_goes_before_what_is_drawn_and_that_before_defaults() -> None:
    spec = spec_from_dict({**SPEC, "targets": {"twist_deg_per_n_m": 4.0, "divergence_margin": 2.0}})
    found = {target.key: target for target in targets_of(spec, DRAWN_WING, no_worse=True).targets}
    assert found["twist_deg_per_n_m"].value == 4.0
    assert found["divergence_m_s"].value == 50.0
    assert found["tip_deflection_mm"].value == 20.0
    assert found["tip_deflection_mm"].origin == "as drawn"
    assert found["buckling_torque_n_m"].value == 1.8
    assert targets_of(spec, DRAWN_WING, no_worse=True).met(wing(twist_deg_per_n_m=4.0))
    assert not targets_of(spec, DRAWN_WING, no_worse=True).met(DRAWN_WING)


def test_without_an_aircraft_the_drawn_wing_is_the_target() -> None:
    spec = spec_from_dict({"station": SPEC["station"]})
    bare = wing(tip_mm=None, first_buckling_g=None, divergence_m_s=None, strength_share=None)
    found = targets_of(spec, bare)
    assert {t.key for t in found.targets} == {"twist_deg_per_n_m", "buckling_torque_n_m"}
    assert found.met(bare)
    asking = spec_from_dict({"station": SPEC["station"], "targets": {"tip_deflection_mm": 9.0}})
    with pytest.raises(InputError, match=r"targets.tip_deflection_mm: got it in a spec without \[aircraft\]"):
        targets_of(asking, bare)


def test_errors_unknown_numbers_and_new_warnings_stop_a_wing() -> None:
    targets = targets_of(spec_from_dict({**SPEC, "targets": {}}), DRAWN_WING)
    assert targets.met(DRAWN_WING)
    for worse, key in (
        (wing(errors=("second-contour",), said=("a hole",)), "second-contour"),
        (wing(errors=("broken-margin", "outweighs"), said=("a tube", "too heavy")), "outweighs"),
        (wing(first_buckling_g=None), "first_buckling_load_factor"),
        (wing(torque_down_n_m=None), "buckling_torque_n_m"),
        (wing(warnings=("weak-aileron", "steep")), "steep"),
        (wing(strength_share=1.2, strength_place="tube bending at the root"), "strength"),
    ):
        stops = targets.stops(worse)
        assert [stop.key for stop in stops] == [key]
        if worse.said:
            assert stops[0].words == worse.said[-1]
        assert not targets.met(worse)
    # a soft wing is sound, a weak one is not
    assert targets.sound(wing(tip_mm=99.0))
    assert not targets.sound(wing(strength_share=1.2))
    assert not targets.sound(wing(errors=("second-contour",), said=("a hole",)))
    # no divergence is as good as can be, and wrinkles are judged by their target
    assert targets.met(wing(divergence_m_s=None))
    assert targets.met(wing(warnings=("weak-aileron", "wrinkles")))


def test_measures_survive_their_file() -> None:
    import json

    data = json.loads(json.dumps(DRAWN_WING.as_dict()))
    assert measures_from_dict(data) == DRAWN_WING
    with pytest.raises(ValueError, match="mass_g"):
        measures_from_dict({**data, "mass_g": "heavy"})
    with pytest.raises(ValueError, match="said"):
        measures_from_dict({**data, "errors": ["second-contour"]})


def test_the_drawn_wing_changes_nothing_and_has_no_features() -> None:
    freedom = freedom_from(FILAMENT, PRINTER)
    assert freedom.changes(freedom.drawn) == {}
    assert freedom.words(freedom.drawn) == DRAWN
    assert not freedom.features(freedom.drawn).any()
    # 4 runs, 9 pitches and what is drawn among them, 4 tips, 2 angles, 3 beads
    assert freedom.size == 4 * 9 * 4 * 2 * 3
    # without ribs all but the bead is alike
    assert len(every_candidate(freedom)) == 3 * 9 * 4 * 2 * 3 + 3


def test_changes_name_what_a_file_holds() -> None:
    spec = spec_from_dict(
        {
            **SPEC,
            "slots": {"neck_mm": 0.72},
            "spar_web": [{"chord_fraction": 0.55, "from_mm": 100.0}],
            "tube": [
                {"outer_mm": 8.0, "inner_mm": 6.0, "from_mm": 0.0, "to_mm": 300.0, "chord_fraction": 0.3}
            ],
            "freedom": {"webs": 1, "tube_sizes_mm": [[6.0, 4.0]], "tube_length": [0.5, 1.0]},
        }
    )
    freedom = freedom_of(
        spec, filament=FILAMENT, printer=PRINTER, materials=(load_tube("pultruded-carbon"),), root_mm=21.6
    )
    by_name = {dimension.name: place for place, dimension in enumerate(freedom.dimensions)}
    chosen = list(freedom.drawn)

    def choose(name: str, value: object) -> None:
        chosen[by_name[name]] = freedom.dimensions[by_name[name]].values.index(value)

    for name, value in (
        ("run", "aft"),
        ("pitch", 35.0),
        ("tip pitch", 1.6),
        ("bead", 0.5),
        ("spar_web[0]", "none"),
        ("added web 1: place", 0.4),
        ("tube[0]: size", (6.0, 4.0)),
        ("tube[0]: end", 150.0),
    ):
        choose(name, value)
    changes = freedom.changes(tuple(chosen))
    assert changes == {
        "ribs.run": "aft",
        "ribs.pitch_mm": None,
        "ribs.pitch_along_mm": [[0.0, 35.0], [450.0, 56.0]],
        "print.bead_mm": 0.5,
        "slots.neck_mm": 0.8,
        "spar_web": [{"chord_fraction": 0.4, "from_mm": 0.0, "to_mm": 450.0}],
        "tube[0].outer_mm": 6.0,
        "tube[0].inner_mm": 4.0,
        "tube[0].to_mm": 150.0,
    }
    words = changes_words(changes)
    for part in ("aft ribs only", "35 mm at the root, 56 at the tip", "bead 0.5 mm", "tube[0] 6/4 mm"):
        assert part in words


def test_nothing_free_is_refused() -> None:
    free = {
        "run": [],
        "pitch_mm": [],
        "tip_pitch": [],
        "angle_deg": [],
        "bead_mm": [],
        "webs": 0,
    }
    with pytest.raises(InputError, match="freedom: got nothing that may change"):
        freedom_from(FILAMENT, PRINTER, freedom=free)
    for wrong in ([60.0, 20.0], [30.0]):
        with pytest.raises(InputError, match=r"freedom.pitch_mm: got \[.*\]; allowed: two pitches"):
            freedom_from(FILAMENT, PRINTER, freedom={"pitch_mm": wrong})


def test_neighbours_differ_in_one_place() -> None:
    freedom = freedom_from(FILAMENT, PRINTER)
    near = list(freedom.neighbours(freedom.drawn))
    assert len(set(near)) == len(near)
    for other in near:
        assert sum(a != b for a, b in zip(other, freedom.drawn, strict=True)) == 1
    # 3 other runs, 2 pitches, 2 tips, 1 angle, 2 beads
    assert len(near) == 3 + 2 + 2 + 1 + 2


def test_the_front_is_what_no_other_wing_beats() -> None:
    formula = Formula(freedom_from(FILAMENT, PRINTER))
    searcher = Searcher(formula.freedom, formula, SearchSettings(judged=40, pool=16))
    searcher.search()
    found = searcher.found()
    front = front_of(found)
    all_of_them = [(m.mass_g, found.targets.worst(m)) for m in map(formula.measures, formula.judged)]
    expected = {
        (mass, worst)
        for mass, worst in all_of_them
        if worst <= FARTHEST
        and not any((m <= mass and w < worst) or (m < mass and w <= worst) for m, w in all_of_them)
    }
    assert {(row.measures.mass_g, row.worst) for row in front} == expected
    misses = near_misses(found)
    best = formula.measures(found.best) if found.best is not None else None
    assert best is not None
    assert all(miss.measures.mass_g < best.mass_g and miss.stops for miss in misses)


def test_what_ribs_bought_is_the_difference_to_the_wing_without() -> None:
    best = wing(mass_g=90.0)
    bare = wing(mass_g=78.0, torque_down_n_m=0.6, torque_up_n_m=0.7, tip_mm=-23.0, twist_deg_per_n_m=5.5)
    rows = bought_of(best, [("aft ribs", Judgement(bare)), ("spar_web[0]", Judgement(None, "no room"))])
    assert rows[0].mass_g == pytest.approx(12.0)
    assert rows[0].torque_n_m == pytest.approx(1.2)
    assert rows[0].g_per_n_m == pytest.approx(10.0)
    assert rows[0].g_per_mm == pytest.approx(4.0)
    assert "12.0 g buy 1.2 N m more torque until the first wrinkle (10 g for each N m)" in rows[0].words
    assert "no room" in rows[1].words
    worse = bought_of(best, [("aft ribs", Judgement(wing(mass_g=78.0, torque_down_n_m=2.0)))])
    assert worse[0].g_per_n_m is None


def test_each_kind_of_rib_is_left_out_once() -> None:
    spec = spec_from_dict({**SPEC, "spar_web": [{"chord_fraction": 0.4}, {"chord_fraction": 0.6}]})
    changes = {"print.bead_mm": 0.5}
    found = bought_changes(spec, changes)
    assert set(found) == {"aft ribs", "forward ribs", "all ribs", "spar_web[0]", "spar_web[1]"}
    assert found["aft ribs"] == {"print.bead_mm": 0.5, "ribs.run": "forward"}
    assert found["spar_web[0]"]["spar_web"] == [{"chord_fraction": 0.6}]


def windowed_freedom(ribs: dict[str, object], **free: object) -> Freedom:
    spec = spec_from_dict({**SPEC, "ribs": ribs, "freedom": {"webs": 0, "bead_mm": [], **free}})
    return freedom_of(spec, filament=FILAMENT, printer=PRINTER, materials=(), root_mm=20.0)


def with_value(freedom: Freedom, **chosen: object) -> tuple[int, ...]:
    places = []
    for dimension in freedom.dimensions:
        wanted = chosen.get(dimension.name, dimension.values[dimension.drawn])
        places.append(dimension.values.index(wanted))
    return tuple(places)


def test_stubs_follow_from_the_thickness_of_the_root() -> None:
    drawn = windowed_freedom({"run": "both"})
    stubs = {one.name: one.values for one in drawn.dimensions}["stub"]
    # a tenth to some quarter of 20 mm, to half millimetres, and more than half of it: whole ribs
    assert stubs == (DRAWN, 2.0, 2.5, 3.0, 4.0, 5.5, 10.5)
    given = windowed_freedom({"run": "both", "stub_mm": 4.0}, stub_mm=[0.6, 3.0, 4.0])
    # two beads at least; what is drawn is not told twice
    assert {one.name: one.values for one in given.dimensions}["stub"] == (DRAWN, "none", 3.0)
    kept = windowed_freedom({"run": "both", "stub_mm": 4.0}, stub_mm=[])
    assert "stub" not in {one.name for one in kept.dimensions}


def test_windows_change_one_key_and_need_both_runs() -> None:
    freedom = windowed_freedom({"run": "both"})
    stubbed = with_value(freedom, stub=3.0)
    assert freedom.changes(stubbed) == {"ribs.stub_mm": 3.0}
    assert "slots from both skins, stubs of 3 mm" in freedom.words(stubbed)
    one_run = with_value(freedom, stub=3.0, run="aft")
    assert freedom.canonical(one_run) == freedom.canonical(with_value(freedom, run="aft"))
    assert freedom.changes(one_run) == {"ribs.run": "aft"}
    drawn = windowed_freedom({"run": "both", "stub_mm": 4.0})
    assert drawn.changes(with_value(drawn, run="aft")) == {"ribs.run": "aft", "ribs.stub_mm": None}
    filled = with_value(drawn, stub="none")
    assert drawn.changes(filled) == {"ribs.stub_mm": None}
    assert "slots from one skin" in drawn.words(filled)


def test_kinds_and_the_coarse_grid_are_of_runs_windows_pitches_and_webs() -> None:
    spec = spec_from_dict(
        {
            **SPEC,
            "ribs": {"run": "both", "pitch_mm": 30.0},
            "spar_web": [{"chord_fraction": 0.3}],
            "freedom": {"pitch_mm": [20.0, 40.0], "pitch_step_mm": 1.0, "stub_mm": [2.0, 3.0]},
        }
    )
    freedom = freedom_of(spec, filament=FILAMENT, printer=PRINTER, materials=(), root_mm=20.0)
    kinds = [freedom.kind(with_value(freedom, **one)) for one in ({}, {"stub": 3.0}, {"run": "aft"})]
    assert kinds == [("both", True), ("both", False), ("aft", True)]
    grid = set(freedom.coarse())
    names = [dimension.name for dimension in freedom.dimensions]
    values = [{freedom.dimensions[n].values[one[n]] for one in grid} for n in range(len(names))]
    found = dict(zip(names, values, strict=True))
    assert found["run"] == {"both", "aft", "forward", "none"}
    assert found["stub"] == {DRAWN, 2.0, 3.0}
    # six of 21, both ends among them
    assert len(found["pitch"]) == 6
    assert {20.0, 40.0} <= found["pitch"]
    # with the webs as they are drawn, and with none
    assert len(grid) == 4 * 3 * 6 * 2
    webs = {str(freedom.changes(one).get("spar_web", DRAWN)) for one in grid}
    assert webs == {DRAWN, "[]"}


def test_stubs_as_numbers_tell_whether_there_are_windows_and_how_deep() -> None:
    freedom = windowed_freedom({"run": "both"}, stub_mm=[2.0, 3.0, 4.0])
    (stub,) = (one for one in freedom.dimensions if one.name == "stub")
    assert stub.values == (DRAWN, 2.0, 3.0, 4.0)
    assert stub.rows == ((0.0, 0.0), (1.0, math.log(2.0 / 3.0)), (1.0, 0.0), (1.0, math.log(4.0 / 3.0)))
    drawn = windowed_freedom({"run": "both", "stub_mm": 4.0}, stub_mm=[2.0])
    (stub,) = (one for one in drawn.dimensions if one.name == "stub")
    assert stub.values == (DRAWN, "none", 2.0)
    assert stub.rows == ((0.0, 0.0), (-1.0, 0.0), (0.0, math.log(0.5)))


def test_windows_are_held_against_plain_ribs() -> None:
    spec = spec_from_dict({**SPEC, "ribs": {"run": "both", "stub_mm": 4.0}})
    found = bought_changes(spec, {"ribs.stub_mm": 4.0})
    assert found["slots from both skins"] == {"ribs.stub_mm": None}
    # with one run there can be no windows
    assert found["aft ribs and their windows"] == {"ribs.stub_mm": None, "ribs.run": "forward"}
    plain = wing(mass_g=96.0, tip_mm=-19.0, torque_down_n_m=0.6, torque_up_n_m=0.7)
    row = bought_of(wing(mass_g=90.0, tip_mm=-20.0), [("slots from both skins", Judgement(plain))])[0]
    assert row.mass_g == pytest.approx(-6.0)
    assert row.g_per_n_m is None
    words = "slots from both skins: save 6.0 g and buy 1.2 N m more torque until the first wrinkle"
    assert words in row.words
    assert "but the tip moves 1 mm more" in row.words
