"""What a maintainer adds by rows or by one folder is there in every command: tried on a copy of the package.

The copy gets a binder, a grade and a dryer as rows of the tables alone, and a kind of report as a package, a template and
a line of the registry. All numbers of the added rows are invented.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from tests.folders import PARTS, TOML, swap, write_folder

ROOT = Path(__file__).parents[1]
BINDER, GRADE, DRYER = "oat-paste", "envelope", "drying-drum"
MODELS = {BINDER: "potato-starch", GRADE: "office", DRYER: "fan"}
"""Ids whose rows are written again under the new id."""

NAMES = """\
binder,oat-paste,en,oat glue,cooked oat paste
binder,oat-paste,es,cola de avena,engrudo de avena
grade,envelope,en,,used envelopes
grade,envelope,es,,sobres usados
dryer,drying-drum,en,,They dry in a drum that turns.
dryer,drying-drum,es,,Se secan en un tambor que gira.
"""
KIND = 'Kind("notice", "Notice", "a notice board", questions=(Question("copies", "copies to hang up", 3),)),'
CONTENT = '''\
"""A notice of one line."""


class Notice:
    def __init__(self, results, request):
        self.figures = {"notice": {"copies": request.answers["copies"]}}

    def data(self, printer, tie):
        return {}
'''
TEMPLATE = """\
{% extends "base.html" %}
{% block title %}Notice{% endblock %}
{% block description %}What was kept from landfill{% endblock %}
{% block head %}<h1>Notice of {{ workshop.name }}</h1>{% endblock %}
{% block body %}<p>Kept from landfill: {{ f("paper.kept_from_landfill_kg.value") }} {{ p.mass_unit }}.
Copies: {{ f("notice.copies") }}.</p>{% endblock %}
"""
BATCHES = """\
batch,date,part,envelope,binder,binder mass,drying,good parts,rejects
001,2026-01-05,pot,1.25,oat-paste,0.2,,30,2
002,2026-01-06,pot,1.5,pva-glue,0.2,,30,2
"""
RUN = """\
import json, sys
from click.testing import CliRunner
from impact.cli.commands import main
done = {}
for name, arguments in json.load(sys.stdin).items():
    result = CliRunner().invoke(main, arguments)
    done[name] = [result.exit_code, result.output]
print(json.dumps(done))
"""
FOOTPRINT = "parts.pot.footprint_kgco2e.value"


@dataclass(frozen=True)
class Tried:
    """What the commands of the copy printed, with their status, and where they wrote."""

    done: dict[str, tuple[int, str]]
    place: Path

    def output(self, name: str, status: int = 0) -> str:
        """Return what a command printed."""
        found, text = self.done[name]
        assert found == status, text
        return text

    def json(self, name: str) -> Any:
        """Return the document that a command printed."""
        return json.loads(self.output(name))

    def page(self, name: str) -> str:
        """Return the words of a report, of its alternative texts too."""
        self.output(name)
        html = (self.place / f"{name}.html").read_text(encoding="utf-8")
        return " ".join(
            unescape(re.sub(r"<style>.*?</style>|</?(?:span|strong)[^>]*>", "", html, flags=re.DOTALL)).split()
        )


def add_rows(factors: Path) -> None:
    """Write the rows of each model again under the new id, and the names."""
    for table in sorted(factors.glob("*.csv")):
        lines = table.read_text(encoding="utf-8").splitlines()
        for new, model in MODELS.items():
            of_model = re.compile(rf"(?:[a-z]+,|[a-z.-]+\.){model}[.,/]")
            if table.name not in ("names.csv", "sources.csv"):
                lines += [line.replace(model, new, 1) for line in lines if of_model.match(line)]
        if table.name == "names.csv":
            lines += NAMES.splitlines()
        table.write_text("\n".join(lines) + "\n", encoding="utf-8")


def add_kind(package: Path) -> None:
    """Add a kind of report: a package, a template, a line of the registry."""
    home, kinds = package / "impact" / "report" / "notice", package / "impact" / "report" / "kinds.py"
    home.mkdir()
    (home / "__init__.py").write_text("", encoding="utf-8")
    (home / "content.py").write_text(CONTENT, encoding="utf-8")
    (package / "report_templates" / "notice.html").write_text(TEMPLATE, encoding="utf-8")
    before, line, after = re.split(r'(\n +Kind\("binder".*)', kinds.read_text(encoding="utf-8"))
    kinds.write_text(f"{before}{line}\n        {KIND}{after}", encoding="utf-8")
    figures = package / "impact" / "report" / "figurekinds.py"
    told = figures.read_text(encoding="utf-8")
    figures.write_text(told.replace("    # the totals\n", '    ("notice.*", "count"),\n', 1), encoding="utf-8")


@pytest.fixture(scope="module")
def tried(tmp_path_factory: pytest.TempPathFactory) -> Tried:
    """Return what the commands of the copy do, all run in one process."""
    copy, place = tmp_path_factory.mktemp("copy"), tmp_path_factory.mktemp("place")
    for name in ("impact", "factors", "report_templates"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", "pictures"))
    add_rows(copy / "factors")
    add_kind(copy)
    settings = swap(TOML, 'dryer = "fan"', f'dryer = "{DRYER}"')
    parts = "".join(PARTS.splitlines(keepends=True)[:2])
    shop = str(write_folder(place / "shop", workshop=settings, parts=parts, batches=BATCHES))
    misspelt = BATCHES.replace(",envelope,", ",envelop,").replace("oat-paste", "oat-past")
    wrong = str(
        write_folder(place / "wrong", workshop=settings.replace(DRYER, "drying-dum"), parts=parts, batches=misspelt)
    )
    few = ("--draws", "100")
    kinds = {"funder": (), "school": (), "school-es": ("--language", "es"), "binder": (), "notice": ("--copies", "5")}
    reports = {
        name: ("report", shop, "--for", name.split("-")[0], *options, "-o", str(place / f"{name}.html"), *few)
        for name, options in kinds.items()
    }
    commands = {
        "check": ("check", shop),
        "wrong": ("check", wrong, "--all"),
        "totals": ("totals", shop, "--json", *few),
        "binders": ("binders", shop, "--part", "pot", "--json", *few),
        "explain": ("explain", shop, FOOTPRINT, "--json", *few),
        "export": ("export", shop, "-o", str(place / "account.xlsx"), *few),
        "new": ("new", str(place / "new"), "--country", "USA"),
        "help": ("report", "--help"),
        **reports,
        "pdf": ("report", shop, "--for", "notice", "-o", str(place / "notice.pdf"), *few),
        "verify": ("verify", str(place / "notice.pdf"), "--json"),
        "other": ("report", shop, "--for", "funder", "--copies", "5"),
    }
    found = subprocess.run(
        [sys.executable, "-c", RUN], input=json.dumps(commands), cwd=place, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(copy)},
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    return Tried(json.loads(found.stdout), place)


def sheets(path: Path) -> str:
    """Return the cells of a workbook, as its files hold them."""
    with zipfile.ZipFile(path) as archive:
        return "".join(archive.read(name).decode() for name in archive.namelist() if name.startswith("xl/"))


def test_check_added_ids_are_accepted_and_misspelt_ones_meet_them(tried: Tried) -> None:
    tried.output("check")
    said = tried.output("wrong", status=1)
    assert [new for new in MODELS if f'did you mean "{new}"' not in said] == []


def test_totals_added_grade_and_binder_are_counted(tried: Tried) -> None:
    totals = tried.json("totals")
    (grade,) = totals["paper"]["by_grade"]
    assert (grade["grade"], grade["collected_kg"]) == (GRADE, pytest.approx(2.75))
    assert {finding["binder"] for finding in totals["compostability"]} == {BINDER, "pva-glue"}
    assert {blend["binder"] for blend in totals["blends"]} == {BINDER, "pva-glue"}


def test_explain_names_the_added_rows(tried: Tried) -> None:
    found = tried.output("explain")
    rows = (f"binder.footprint.{BINDER}", f"paper.moisture.{GRADE}", f"drying.energy.{DRYER}")
    assert [row for row in rows if row not in found] == []


def test_binders_added_binder_stands_beside_the_others(tried: Tried) -> None:
    (added,) = [one for one in tried.json("binders")["binders"] if one["binder"] == BINDER]
    assert added["batches"] == 1


def test_export_holds_the_added_ids(tried: Tried) -> None:
    tried.output("export")
    cells = sheets(tried.place / "account.xlsx")
    assert [new for new in MODELS if new not in cells] == []


def test_new_folder_offers_the_added_binder_and_dryer(tried: Tried) -> None:
    tried.output("new")
    assert f'"{DRYER}"' in (tried.place / "new" / "workshop.toml").read_text(encoding="utf-8")
    cells = sheets(tried.place / "new" / "batches.xlsx")
    assert [new for new in (BINDER, GRADE) if new not in cells] == []


def test_funder_page_has_the_names_of_the_added_ids(tried: Tried) -> None:
    page = tried.page("funder")
    assert [name for name in ("oat glue", "used envelopes") if name not in page] == []


@pytest.mark.parametrize(("name", "language"), [("school", "en"), ("school-es", "es")])
def test_school_page_has_the_plain_names_of_the_added_ids(tried: Tried, name: str, language: str) -> None:
    page = tried.page(name)
    rows = [line.split(",") for line in NAMES.splitlines()]
    plain = [row[3] or row[4] for row in rows if row[2] == language]
    assert len(plain) == 3
    assert [words for words in plain if words not in page] == []


def test_binder_page_has_the_short_name_of_the_added_binder(tried: Tried) -> None:
    page = tried.page("binder")
    assert "PVA glue or oat glue:" in page
    assert BINDER not in page


def test_added_kind_is_offered_with_its_question_and_made(tried: Tried) -> None:
    said = " ".join(tried.output("help").split())
    assert "[funder|school|binder|notice]" in said
    assert "notice: for a notice board" in said
    assert "Notice: copies to hang up; 3 by default." in said
    assert "school.pdf, binder.pdf or notice.pdf" in said
    assert re.search(
        r"<h1>Notice of Paper Bench</h1>.*Kept from landfill: [\d.]+ kg\. Copies: 5\.", tried.page("notice")
    )
    assert "--copies belongs to --for notice" in tried.output("other", status=2)


def test_added_kind_is_verified_from_what_its_file_carries(tried: Tried) -> None:
    tried.output("pdf")
    found = tried.json("verify")
    assert found["disagreements"] == []
    assert found["pages"] == {"agree": 2, "of": 2}
