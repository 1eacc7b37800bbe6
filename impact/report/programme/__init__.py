"""The funder's report of several workshops together: their sum, a row for each, and each in short.

- `content`: what its pages show and what it carries.

It is no kind of report of its own: a folder of workshops has it where a funder's is asked for. Verdicts, figures per part and
cautions stay those of each workshop by its settings; accounts alone are summed, draw by draw. Each attached file has the
folder of its workshop before its name, as `impact.report.evidence.under_roof` writes it; a verification takes the names of
folders from the settings and gives the folders that it makes numbers. No workbook goes along: that of a workshop is in its
own report.
"""
