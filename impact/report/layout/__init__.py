"""Pages of ours laid out by the layout library, as a PDF for every reader and for archives.

- `columns`: columns of even height, found at once.
- `lines`: lines that are broken and set once, and not again in every pass.
- `pango`: the system library that sets the text of a PDF, and what to install.
- `pdf`: HTML of ours to a PDF of both standards.
- `references`: page numbers of references, found after one pass over the pages.
- `styles`: values of styles that need no working out, given at once.
- `tagging`: the tags of a PDF mended.
- `texts`: what sets text, set up once for all styles that are alike in it.
- `wording`: the words of charts in a PDF, set as whole lines.

All that leans on the inner parts of one version of the layout library stands here; `pyproject.toml` bounds it. `columns`,
`lines`, `references`, `styles` and `texts` save the library work and change nothing that it sets, but that columns can be a few pixels less high than the steps
by which it looks for their height. Lists in columns have no margin at their foot, for which it would set them twice.
"""
