"""Sheets for people: a setup sheet per setup, a quote sheet and a reach sheet, as HTML, PDF or CSV."""
