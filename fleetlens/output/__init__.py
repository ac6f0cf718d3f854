"""Findings for people and files: tables, charts, workbooks."""
