"""Problems as lines: what repeats is one line, and nothing is lost with --all."""

from __future__ import annotations

import pytest

from impact.base.problems import Problem, compact_rows, lines, sentences


def fault(row: int | None, **changes: str) -> Problem:
    settings = {"code": "bad", "file": "batches.csv", "message": "is no number", "column": "water", "read": "x"}
    return Problem(row=row, **{**settings, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ([7], "row 7"),
        ([5, 4], "rows 4–5"),
        ([4, 5, 6, 7, 8, 9, 12], "rows 4–9, 12"),
        ([3, 5, 7, 9, 11, 13], "rows 3, 5, 7, 9 and 2 more"),
        ([4, 4, 6], "rows 4, 6"),
    ],
)
def test_compact_rows_gives_runs_and_counts_the_rest(rows: list[int], text: str) -> None:
    assert compact_rows(rows) == text


def test_lines_two_alike_stay_apart() -> None:
    assert lines([fault(2), fault(3)]) == [f"error: {fault(2)}", f"error: {fault(3)}"]


def test_lines_three_alike_are_one_with_their_rows() -> None:
    assert lines([fault(2), fault(9), fault(3)]) == [
        'error: batches.csv, rows 2–3, 9, column "water": read "x": is no number.'
    ]


def test_lines_different_texts_are_quoted_and_the_first_message_has_its_row() -> None:
    many = [fault(row, read=f"{row}", message=f"number {row}", accepted=f"up to {row}") for row in (2, 3, 5, 8)]
    assert lines(many) == [
        'error: batches.csv, rows 2–3, 5, 8, column "water": read "2", "3", "5" and 1 other: row 2, number 2; the others '
        "alike. Accepted in row 2: up to 2."
    ]


@pytest.mark.parametrize("changes", [{"column": "trim"}, {"code": "worse"}, {"file": "b/batches.csv"}])
def test_lines_other_place_or_code_is_no_repeat(changes: dict[str, str]) -> None:
    assert len(lines([fault(2), fault(3), fault(4, **changes)])) == 3


def test_lines_without_a_row_are_never_put_together() -> None:
    assert len(lines([fault(None), fault(None), fault(None)])) == 3


def test_lines_everything_gives_each_problem_its_line_errors_first() -> None:
    doubt = Problem("odd", "batches.csv", "is odd", row=1, level="warning")
    found = lines([doubt, fault(2), fault(3), fault(4)], everything=True)
    assert found == [*(f"error: {fault(row)}" for row in (2, 3, 4)), f"warning: {doubt}"]


def test_sentences_leave_out_the_level_and_escape_marks_of_direction() -> None:
    (line,) = sentences([fault(row, read="\u202ex") for row in (2, 3, 4)])
    assert line.startswith("batches.csv, rows 2–4")
    assert "\u202e" not in line
