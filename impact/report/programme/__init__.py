"""The funder's report of several workshops together: their sum, a row for each, and each in short."""
