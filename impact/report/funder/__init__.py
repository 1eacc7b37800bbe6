"""The funder report: everything that a funder's officer, an engineer and an auditor ask for."""
