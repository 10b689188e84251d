"""The search for a lighter wing on wings that are really built and solved: against their whole grid."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from lightened import EDGE_MM, REDUCED

from wingpath.core.errors import FileAccessError, InputError, SpecError
from wingpath.io.journal import read_journal
from wingpath.io.lightened_output import begin_lightened_folder
from wingpath.io.spec_toml import dump_toml, load_spec
from wingpath.lighten import lightening as lightening_module
from wingpath.lighten.bench import Bench
from wingpath.lighten.engine import Engine, open_engine
from wingpath.lighten.freedom import freedom_of
from wingpath.lighten.judging import Job, judge_candidate
from wingpath.lighten.lighten_document import front_csv, judged_csv, lighten_document
from wingpath.lighten.lightening import Lightening, Run, lighten_wing, lightest_text
from wingpath.lighten.measures import measures_of
from wingpath.lighten.searching import SearchSettings
from wingpath.pipeline.assessing import assess_wing
from wingpath.pipeline.design import design_wing, tube_materials
from wingpath.pipeline.progress import silent

SAME = 1e-6
"""Numbers are kept with seven digits."""

FEW = SearchSettings(judged=20, pool=24, batch=4)


@pytest.fixture(scope="module")
def spec(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("lighten") / "sedge.toml"
    path.write_text("# drawn by hand\n" + dump_toml(REDUCED))
    return path


@pytest.fixture(scope="module")
def searched(spec: Path) -> Lightening:
    return lighten_wing(spec, settings=FEW, edge_mm=EDGE_MM, run=Run(journal=spec.with_name("kept.jsonl")))


def again(spec: Path, searched: Lightening, **options: Any) -> Lightening:
    """Search once more with what is known, so that only what is new is built."""
    settings = options.pop("settings", FEW)
    assert searched.best is not None
    return lighten_wing(
        spec,
        settings=settings,
        edge_mm=EDGE_MM,
        run=Run(journal=spec.with_name("kept.jsonl"), **options.pop("run", {})),
        **options,
    )


def test_brute_force_over_the_whole_grid_finds_nothing_lighter(spec: Path, searched: Lightening) -> None:
    freedom, targets = searched.freedom, searched.found.targets
    ranges = (range(len(dimension.values)) for dimension in freedom.dimensions)
    grid = sorted({freedom.canonical(candidate) for candidate in itertools.product(*ranges)})
    # windows need both runs, and without ribs there is no pitch
    assert len(grid) == 5 * 2 * 2 * 2 + 5 * 2 * 2 + 2 * 2
    assert any("ribs.stub_mm" in freedom.changes(candidate) for candidate in grid)
    known = read_journal(spec.with_name("kept.jsonl"), wing=lightening_module._digest(REDUCED, spec.parent))
    with open_engine("processes", processes=1) as engine:
        bench = Bench(
            freedom, REDUCED, str(spec.parent), engine, silent, len(grid), edge_mm=EDGE_MM, known=known
        )
        judged = bench.judge(grid)
    met = [one.measures.mass_g for one in judged if one.measures is not None and targets.met(one.measures)]
    assert 3 <= len(met) < len(grid) - 3, "the targets must part the grid, or the search proves nothing"
    lightest = min(met)
    for seed in (1, 2, 3):
        one = again(spec, searched, settings=SearchSettings(judged=20, pool=24, batch=4, seed=seed))
        assert one.best is not None
        assert one.best.mass_g == pytest.approx(lightest, rel=SAME)
        assert one.found.counts.judged < len(grid)


def test_the_written_spec_does_what_was_told(spec: Path, searched: Lightening, tmp_path: Path) -> None:
    text, beside = lightest_text(searched)
    assert not beside
    assert "# drawn by hand" in text
    assert text.startswith("# The lightest wing that `wingpath lighten`")
    written = tmp_path / "lightest.toml"
    written.write_text(text)
    assert load_spec(written) != load_spec(spec)
    found = measures_of(assess_wing(written, edge_mm=EDGE_MM, bounds=False))
    assert searched.best is not None
    assert found == searched.best
    assert searched.found.targets.met(found)
    # with all that bounds the numbers, they are the same
    whole = measures_of(assess_wing(written, edge_mm=EDGE_MM))
    assert (whole.mass_g, whole.twist_deg_per_n_m) == (found.mass_g, found.twist_deg_per_n_m)


@pytest.mark.parametrize("run", [{"processes": 2}, {"engine": "threads", "processes": 2}])
def test_more_processes_and_other_engines_find_the_same(
    spec: Path, searched: Lightening, run: dict[str, Any], tmp_path: Path
) -> None:
    few = SearchSettings(judged=6, pool=12, batch=3)
    one = again(spec, searched, settings=few)
    fresh = lighten_wing(spec, settings=few, edge_mm=EDGE_MM, run=Run(**run))
    assert lighten_document(fresh) == lighten_document(one)
    assert judged_csv(fresh) == judged_csv(one)


def test_a_cluster_finds_the_same(spec: Path, searched: Lightening) -> None:
    from distributed import LocalCluster

    few = SearchSettings(judged=4, pool=12, batch=3)
    one = again(spec, searched, settings=few)
    make: Any = LocalCluster
    with make(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as cluster:
        fresh = lighten_wing(
            spec, settings=few, edge_mm=EDGE_MM, run=Run(engine=f"dask:{cluster.scheduler_address}")
        )
    assert lighten_document(fresh) == lighten_document(one)


def test_an_interrupt_keeps_the_best_and_the_search_goes_on_from_it(
    spec: Path, searched: Lightening, tmp_path: Path
) -> None:
    journal = tmp_path / "torn.jsonl"
    told: list[str] = []

    def stop_after_seven(words: str, share: float) -> None:
        told.append(words)
        if words.startswith("7 built"):
            raise KeyboardInterrupt

    torn = lighten_wing(
        spec, settings=FEW, edge_mm=EDGE_MM, run=Run(journal=journal), progress=stop_after_seven
    )
    assert torn.stopped
    assert torn.found.counts.judged < searched.found.counts.judged
    assert any("left" in words for words in told)
    assert any("best" in words for words in told)
    before = journal.read_text()
    whole = lighten_wing(spec, settings=FEW, edge_mm=EDGE_MM, run=Run(journal=journal))
    assert not whole.stopped
    assert journal.read_text().startswith(before)
    assert lighten_document(whole) == lighten_document(searched)


def test_what_is_known_is_not_built_again(
    spec: Path, searched: Lightening, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(engine: Engine, function: object, jobs: list[object]) -> Iterator[None]:
        assert not jobs
        return iter(())

    monkeypatch.setattr(Engine, "run", refuse)
    one = again(spec, searched)
    assert lighten_document(one) == lighten_document(searched)
    # other targets need no other wings to begin with
    monkeypatch.undo()
    lines = spec.with_name("kept.jsonl").read_text().count("\n")
    again(spec, searched, no_worse=True, settings=SearchSettings(judged=1))
    added = spec.with_name("kept.jsonl").read_text().count("\n") - lines
    assert added < 20


def test_a_journal_of_another_wing_is_refused(spec: Path, searched: Lightening, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(dump_toml({**REDUCED, "ribs": {"pitch_mm": 25.0}}))
    kept = tmp_path / "kept.jsonl"
    kept.write_bytes(spec.with_name("kept.jsonl").read_bytes())
    with pytest.raises(InputError, match="wing"):
        lighten_wing(other, settings=FEW, run=Run(journal=kept))
    asked = tmp_path / "asked.toml"
    asked.write_text(dump_toml({**REDUCED, "targets": {"twist_deg_per_n_m": 9.0}}))
    assert lighten_wing(asked, settings=SearchSettings(judged=1), edge_mm=EDGE_MM, run=Run(journal=kept))


def test_the_document_tells_the_front_the_price_and_the_misses(searched: Lightening) -> None:
    document = lighten_document(searched)
    drawn, lightest = document["drawn"], document["lightest"]
    assert document["holds"] is True
    assert lightest["meets_targets"] is True
    assert document["saved_g"] == pytest.approx(drawn["mass_g"] - lightest["mass_g"], abs=1e-4)
    assert {target["key"] for target in document["targets"]} >= {"twist_deg_per_n_m", "strength"}
    masses = [row["mass_g"] for row in document["front"]]
    shares = [row["worst_target_share"] for row in document["front"]]
    assert masses == sorted(masses)
    assert shares == sorted(shares, reverse=True)
    assert all(miss["stops"] and miss["mass_g"] < lightest["mass_g"] for miss in document["near_misses"])
    # what ribs weigh by the scales is what their beads weigh, but for the turns at their ends
    bought = {row["what"]: row for row in document["bought"]}
    name = "all ribs" if "all ribs" in bought else next(iter(bought))
    assert bought[name]["mass_g"] == pytest.approx(lightest["ribs_g"], rel=0.15)
    assert "buy" in bought[name]["words"]
    assert document["cautions"]
    for text in (front_csv(searched), judged_csv(searched)):
        head, *rows = text.splitlines()
        assert head.startswith("mark,mass_g,")
        assert len(rows) >= 2


def test_a_layout_that_cannot_be_printed_is_refused_not_judged(spec: Path) -> None:
    web = {"chord_fraction": 0.3, "from_mm": 0.0}
    judged = judge_candidate(Job(REDUCED, (("spar_web", [web]),), str(spec.parent), EDGE_MM))
    assert judged.measures is None
    assert "spar_web[0]" in judged.refused


def test_a_wing_that_cannot_be_drawn_is_no_start(tmp_path: Path) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text(dump_toml({**REDUCED, "spar_web": [{"chord_fraction": 0.3}]}))
    with pytest.raises(InputError, match="spar_web"):
        lighten_wing(path, settings=FEW)
    path.write_text("station = 3")
    with pytest.raises(SpecError):
        lighten_wing(path, settings=FEW)
    with pytest.raises(FileAccessError):
        lighten_wing(tmp_path / "none.toml", settings=FEW)


def test_default_freedom_follows_from_printer_filament_and_stock(spec: Path) -> None:
    data = {key: value for key, value in REDUCED.items() if key not in ("freedom", "targets")}
    path = spec.with_name("free.toml")
    path.write_text(dump_toml(data))
    design = design_wing(path)
    freedom = freedom_of(
        load_spec(path),
        filament=design.filament,
        printer=design.printer,
        materials=tube_materials(design.spec, base_dir=path.parent),
        root_mm=design.wing.stations[0].thickness_mm,
    )
    values = {dimension.name: dimension.values for dimension in freedom.dimensions}
    assert values["run"] == ("both", "aft", "forward", "none")
    assert (min(values["pitch"]), max(values["pitch"])) == (12.0, 60.0)
    # as far as the filament leans: 45 degrees
    assert values["angle"] == (35.0, 40.0, 45.0)
    assert values["bead"] == (0.4, 0.45, 0.5)
    # a rod of 4/2.5 mm: stock from 2.4 to 6 mm
    sizes = [size for size in values["tube[0]: size"] if size != "as drawn"]
    assert sizes
    assert all(2.4 <= outer <= 6.0 and inner < outer for outer, inner in sizes)
    assert max(values["tube[0]: end"]) < 90.0


def test_folders_of_searches(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    journal = begin_lightened_folder(folder, force=False, resume=False)
    journal.write_text("x")
    with pytest.raises(InputError, match=r"by --resume"):
        begin_lightened_folder(folder, force=False, resume=False)
    assert begin_lightened_folder(folder, force=False, resume=True) == journal
    assert journal.is_file()
    begin_lightened_folder(folder, force=True, resume=False)
    assert not journal.exists()
    with pytest.raises(InputError, match=r"holds no evaluations\.jsonl"):
        begin_lightened_folder(tmp_path / "none", force=False, resume=True)


def test_unknown_engines_are_refused() -> None:
    for name in ("ray", "processes:2", ""):
        with pytest.raises(InputError, match="--engine: got"), open_engine(name, processes=2):
            pass
