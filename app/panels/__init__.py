"""Panels around the pages: signal path, editors, findings, frequency bar."""
