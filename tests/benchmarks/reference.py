"""What a report cannot do without: the two libraries imported, four bar charts drawn, one page with a long table laid out.

`startup.py` runs this in a process of its own and measures the commands against it, so that a slow machine is slow in both.
"""

from __future__ import annotations

from io import BytesIO

BARS = 12
ROWS, CELLS = 250, 8


def chart(number: int) -> str:
    """Return a bar chart as SVG."""
    from matplotlib.figure import Figure

    page = Figure(figsize=(6.0, 2.5))
    page.subplots().bar(range(BARS), [1.0 + (number + bar) % 5 for bar in range(BARS)])
    out = BytesIO()
    page.savefig(out, format="svg")
    return out.getvalue().decode()


def main() -> None:
    """Lay out the page."""
    from weasyprint import HTML

    charts = "".join(f"<figure>{chart(number)}</figure>" for number in range(4))
    cells = "".join(f"<td>{number}.25</td>" for number in range(CELLS))
    HTML(string=f"<p>Reference.</p>{charts}<table>{f'<tr>{cells}</tr>' * ROWS}</table>").write_pdf()


if __name__ == "__main__":
    main()
