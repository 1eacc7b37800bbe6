"""The funder report: everything that a funder's officer, an engineer and an auditor ask for.

- `asked`: what forms of funders ask beside the accounts; what is not recorded says so, and masses alone are scaled to a grant.
- `charts`: charts of stages and of months, their names within the drawing; their data stands in tables beside them.
- `compost`: findings as one table, each reason once, and the blend table.
- `content`: what the pages hold.
- `crossings`: the chart of break-even points, six panels at most.
- `decisions`: break-even points, what lowers a part most, what to measure next.
- `document`: the figures of the funder report beside the totals, as JSON values.
- `factors`: the rows that move a figure, by topic and plain name; the rest counted.
- `flow`: the flow of paper, drawn.
- `footprints`: each part beside its plastic part, as marks with intervals, for the first page.
- `levers`: what would lower the parts most, a bar for each step in a panel for each part.
- `story`: the first page and the story: counts, the step that helps most, claims as rows, main reasons.
"""
