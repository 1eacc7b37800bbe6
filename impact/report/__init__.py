"""Reports for a funder, a school and the choice of a binder, as PDF and HTML, and their verification.

In: a `Study` and what is asked. Out: pages that carry the records they were made from.

What holds here: a report is made from the records that it carries; every printed figure is tied to its name; the same
records, seed and version give the same bytes.
"""
